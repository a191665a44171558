"""The rules' functions, one module a subject. Each rule's file names its own: `check = "module.function"`."""
