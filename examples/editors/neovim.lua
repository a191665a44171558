-- setuplint in neovim, from 0.7 on. Tried with Debian's 0.7.2 by a test of this repository, and with 0.10.4 and 0.12.4 by the same test.
-- Put this into ~/.config/nvim/plugin/setuplint.lua. It needs `setuplint` (with its extra: setuplint[editor]) on the PATH.
-- Other TOML files are left alone: only a file with a key or table of the format is looked at.

local function show_lenses(buffer)
  if vim.lsp.codelens.enable then -- 0.12: from here on by itself
    vim.lsp.codelens.enable(true, { bufnr = buffer })
  else
    vim.api.nvim_buf_call(buffer, function()
      vim.lsp.codelens.refresh({ bufnr = buffer })
    end)
  end
end

local function on_attach(client, buffer)
  -- What a finding says stands behind its line; without this, 0.11 and later only underline it.
  vim.diagnostic.config({ virtual_text = true }, vim.lsp.diagnostic.get_namespace(client.id))
  local function key(keys, what)
    vim.keymap.set("n", keys, what, { buffer = buffer })
  end
  key("K", vim.lsp.buf.hover)
  key("gd", vim.lsp.buf.definition)
  key("gr", vim.lsp.buf.references)
  key("<leader>r", vim.lsp.buf.rename)
  key("<leader>a", vim.lsp.buf.code_action) -- remedies, a waiver, a softer curve
  key("<leader>t", vim.lsp.codelens.run) -- try it here
  show_lenses(buffer)
end

local settings = {
  name = "setuplint",
  cmd = vim.g.setuplint_command or { "setuplint", "serve" },
  handlers = { -- once a text is judged: a status line has b:setuplint_status, and the lenses are of that text
    ["$/setuplint/status"] = function(_, status)
      local buffer = vim.uri_to_bufnr(status.uri)
      vim.b[buffer].setuplint_status = status.text
      show_lenses(buffer)
    end,
  },
  on_attach = on_attach,
}

if vim.lsp.config then -- 0.11 and later
  settings.filetypes, settings.root_markers = { "toml" }, { ".git" }
  vim.lsp.config("setuplint", settings)
  vim.lsp.enable("setuplint")
  return
end

local clients = {} -- one server for each folder

local function attach(event)
  local file = vim.api.nvim_buf_get_name(event.buf)
  local git = vim.fn.finddir(".git", vim.fn.fnamemodify(file, ":p:h") .. ";")
  local root = vim.fn.fnamemodify(git ~= "" and git or file, git ~= "" and ":p:h:h" or ":p:h")
  if clients[root] == nil or vim.lsp.get_client_by_id(clients[root]) == nil then
    clients[root] = vim.lsp.start_client(vim.tbl_extend("error", settings, { root_dir = root }))
  end
  vim.lsp.buf_attach_client(event.buf, clients[root])
end

vim.api.nvim_create_autocmd("FileType", { pattern = "toml", callback = attach })
