-- setuplint in neovim. Tried with 0.7.2, as Debian has it, by a test of this repository: what a hazard says, and its remedy.
-- Put this into ~/.config/nvim/after/ftplugin/toml.lua. It needs `setuplint` (with its extra: setuplint[editor]) on the PATH.
-- Other TOML files are left alone: only a file with a key or table of the format is looked at.

local command = vim.g.setuplint_command or { "setuplint", "serve" }
local file = vim.api.nvim_buf_get_name(0)
local above = vim.fn.finddir(".git", vim.fn.fnamemodify(file, ":p:h") .. ";")
local root = above ~= "" and vim.fn.fnamemodify(above, ":p:h:h") or vim.fn.fnamemodify(file, ":p:h")

-- One server for each folder. (From 0.8 on, vim.lsp.start does just this.)
_G.setuplint_clients = _G.setuplint_clients or {}
local client = _G.setuplint_clients[root]
if client == nil or vim.lsp.get_client_by_id(client) == nil then
  client = vim.lsp.start_client({
    name = "setuplint",
    cmd = command,
    root_dir = root,
    handlers = { -- for a status line: what was found, not judged and not decided
      ["$/setuplint/status"] = function(_, status)
        local number = vim.uri_to_bufnr(status.uri)
        vim.api.nvim_buf_set_var(number, "setuplint_status", status.text)
      end,
    },
    on_attach = function(_, buffer)
      local function key(keys, what)
        vim.keymap.set("n", keys, what, { buffer = buffer })
      end
      key("K", vim.lsp.buf.hover)
      key("gd", vim.lsp.buf.definition)
      key("gr", vim.lsp.buf.references)
      key("<leader>r", vim.lsp.buf.rename)
      key("<leader>a", vim.lsp.buf.code_action) -- remedies, a waiver, a softer curve
      key("<leader>t", vim.lsp.codelens.run) -- try it here
      vim.api.nvim_create_autocmd({ "BufEnter", "InsertLeave", "TextChanged" }, {
        buffer = buffer,
        callback = vim.lsp.codelens.refresh,
      })
    end,
  })
  _G.setuplint_clients[root] = client
end
vim.lsp.buf_attach_client(0, client)
