;; setuplint in emacs, by eglot. Not tried here; written for eglot as it comes with emacs 29, and from GNU ELPA for 28.
;; Put this into your init file. It needs `setuplint' (with its extra: setuplint[editor]) on the PATH.
;; `conf-toml-mode' is emacs's own mode for TOML files; where toml-ts-mode is in use, that counts too.

(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs
               '((conf-toml-mode toml-ts-mode toml-mode) . ("setuplint" "serve"))))

;; Started by hand, M-x eglot, or for every TOML file in a folder of setups:
;;   (dir-locals-set-class-variables 'setups '((conf-toml-mode . ((eval . (eglot-ensure))))))
;;   (dir-locals-set-directory-class "~/setups/" 'setups)

;; C-h .  what is under the cursor; M-.  where it is declared; M-?  where it is used;
;; M-x eglot-rename, M-x eglot-code-actions (remedies, a waiver, a softer curve).
