;;; emacs-lsp-mode.el --- setuplint in Emacs, by lsp-mode -*- lexical-binding: t -*-
;; Tried by hand with Emacs 28.2 and lsp-mode 8.0.0, and with 30.2 and 10.0.0, as Debian has them: a hazard, and its remedy.
;; Put this into your init file; `setuplint' (with its extra: setuplint[editor]) is to be on the PATH.
;; conf-toml-mode comes with Emacs; toml-ts-mode from Emacs 29 on.

(require 'lsp-mode)

(defvar-local setuplint-status nil
  "What was found in this buffer, not judged and not decided: for a mode line.")

(defun setuplint-told (_workspace status)
  "Keep the STATUS of a text that was judged."
  (let ((buffer (find-buffer-visiting (lsp--uri-to-path (lsp-get status :uri)))))
    (when buffer
      (with-current-buffer buffer
        (setq setuplint-status (lsp-get status :text))))))

(dolist (mode '(conf-toml-mode toml-ts-mode))
  (add-to-list 'lsp-language-id-configuration (cons mode "toml"))
  (add-hook (intern (format "%s-hook" mode)) #'lsp-deferred))

(lsp-register-client
 (make-lsp-client
  :new-connection (lsp-stdio-connection '("setuplint" "serve"))
  :activation-fn (lsp-activate-on "toml")
  :notification-handlers (lsp-ht ("$/setuplint/status" #'setuplint-told))
  :server-id 'setuplint
  :add-on? t)) ; beside another server for TOML files
