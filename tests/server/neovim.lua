-- What a person does in neovim: open a setup, type a hazard, read what is said of it, take the remedy. The buffer after each
-- step, and what was told, are written as JSON to the file that $SETUPLINT_TOLD names.

local told = { steps = {} }

local function finish()
  local file = io.open(os.getenv("SETUPLINT_TOLD"), "w")
  file:write(vim.json.encode(told))
  file:close()
  vim.cmd("qall!")
end

local clients = vim.lsp.get_clients or vim.lsp.get_active_clients -- the one call from 0.10 on, the other before

local function diagnostics()
  local found = {}
  for _, each in ipairs(vim.diagnostic.get(0)) do
    local line = vim.api.nvim_buf_get_lines(0, each.lnum, each.lnum + 1, false)[1]
    table.insert(found, {
      code = each.code or (each.user_data and each.user_data.lsp and each.user_data.lsp.code),
      message = each.message,
      severity = each.severity,
      text = line:sub(each.col + 1, each.lnum == each.end_lnum and each.end_col or -1),
    })
  end
  return found
end

local function until_true(what, condition)
  if not vim.wait(20000, condition, 20) then
    error("waited in vain for " .. what .. ": " .. vim.inspect(diagnostics()))
  end
end

-- What stands behind the lines: of findings, and of lenses. 0.12 draws lenses on a screen alone, so it is asked for them.
local function words()
  local found = {}
  for space = 1, vim.api.nvim_create_namespace("") do -- those without a name too
    for _, mark in ipairs(vim.api.nvim_buf_get_extmarks(0, space, 0, -1, { details = true })) do
      for _, chunk in ipairs(mark[4].virt_text or {}) do
        table.insert(found, chunk[1])
      end
    end
  end
  if vim.lsp.codelens.enable then
    for _, each in ipairs(vim.lsp.codelens.get({ bufnr = 0 })) do
      table.insert(found, each.lens.command.title)
    end
  end
  return table.concat(found, "\n")
end

local function step(name)
  local lines = vim.api.nvim_buf_get_lines(0, 0, -1, false)
  local found = { name = name, found = diagnostics(), lines = lines, status = vim.b.setuplint_status, words = words() }
  table.insert(told.steps, found)
end

local function type_keys(keys)
  vim.api.nvim_feedkeys(vim.api.nvim_replace_termcodes(keys, true, false, true), "xt", false)
end

local ok, problem = pcall(function()
  vim.g.setuplint_command = vim.json.decode(os.getenv("SETUPLINT_COMMAND"))
  vim.cmd("filetype on")
  vim.cmd("luafile " .. os.getenv("SETUPLINT_SETTINGS"))
  vim.cmd("edit " .. os.getenv("SETUPLINT_FILE"))
  until_true("the server", function()
    local client = clients()[1]
    return client ~= nil and client.server_capabilities ~= nil
  end)
  until_true("the lenses", function()
    return words():find("try override held here", 1, true) ~= nil
  end)

  -- The rescue is put over the hold: keys, as by hand.
  type_keys("gg/rescue-power]<CR>/priority = 50<CR>f5cw150<Esc>")
  until_true("the hazard", function()
    return #diagnostics() > 0 and words():find("1 danger: ", 1, true) ~= nil
  end)
  step("typed")

  -- A line is begun, and left unfinished.
  type_keys("Oramp<Esc>")
  until_true("the unfinished line", function()
    return #diagnostics() > 1
  end)
  step("unfinished")
  type_keys("dd")
  until_true("the line to go", function()
    return #diagnostics() == 1
  end)

  local hover = vim.lsp.buf_request_sync(0, "textDocument/hover", vim.lsp.util.make_position_params(0, "utf-16"), 20000)
  for _, answer in pairs(hover) do -- by the client's number
    told.hover = answer.result.contents.value
  end

  -- The remedy is asked for at the hazard, and taken.
  local hazard = vim.diagnostic.get(0)[1]
  vim.api.nvim_win_set_cursor(0, { hazard.lnum + 1, hazard.col })
  local params = vim.lsp.util.make_range_params(0, "utf-16")
  params.context = { diagnostics = {} }
  local answer = vim.lsp.buf_request_sync(0, "textDocument/codeAction", params, 20000)
  told.actions = {}
  local client = clients()[1]
  for _, action in ipairs(answer[client.id].result) do
    table.insert(told.actions, action.title)
    if action.isPreferred then
      vim.lsp.util.apply_workspace_edit(action.edit, client.offset_encoding)
    end
  end
  until_true("the hazard to go", function()
    return #diagnostics() == 0 and words():find("nothing found: ", 1, true) ~= nil
  end)
  step("mended")
end)
told.problem = not ok and tostring(problem) or nil
finish()
