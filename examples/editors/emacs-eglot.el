;;; emacs-eglot.el --- setuplint in Emacs, by eglot -*- lexical-binding: t -*-
;; Tried by hand with Emacs 28.2 and eglot 1.9, and with 30.2 and its own, as Debian has them: a hazard, and its remedy.
;; Put this into your init file; `setuplint' (with its extra: setuplint[editor]) is to be on the PATH.
;; conf-toml-mode comes with Emacs; toml-ts-mode from Emacs 29 on.

(require 'eglot)

(add-to-list 'eglot-server-programs '((conf-toml-mode toml-ts-mode) . ("setuplint" "serve")))
(add-hook 'conf-toml-mode-hook #'eglot-ensure)
(add-hook 'toml-ts-mode-hook #'eglot-ensure)
