-- A session in an editor with a language client of its own, driven as a person would: open the
-- list, see the verdict, take the repair that is offered, see the verdict again. Each line of what
-- is printed is held to by the test.
local out = {}
local function say(...) table.insert(out, table.concat({ ... }, ' ')) end
local function finish(code)
  vim.fn.writefile(out, os.getenv('DRYFIT_TOLD'))
  vim.cmd(code == 0 and 'qall!' or 'cquit!')
end
local minutes = 20 * 60 * 1000
local id = vim.lsp.start_client({
  name = 'dryfit',
  cmd = { os.getenv('DRYFIT_BINARY'), 'lsp', '--seconds', '1200' },
  root_dir = vim.fn.getcwd(),
  offset_encoding = 'utf-16',
})
vim.lsp.buf_attach_client(0, id)

local function count(severity) return #vim.diagnostic.get(0, { severity = severity }) end
local function request(method, params)
  local answer = vim.lsp.buf_request_sync(0, method, params, minutes)
  local mine = answer and answer[id]
  if not mine or mine.err then
    say(method, 'failed', vim.inspect(mine and mine.err))
    finish(1)
  end
  return mine.result
end
local text = vim.lsp.util.make_text_document_params()
local function verdict()
  local lines = vim.api.nvim_buf_line_count(0)
  local range = { start = { line = 0, character = 0 }, ['end'] = { line = lines, character = 0 } }
  local hints = request('textDocument/inlayHint', { textDocument = text, range = range })
  say('first line:', hints[1].label)
  say('verdict:', request('dryfit/audit', { uri = text.uri }).audits[1].verdict)
end

if not vim.wait(minutes, function() return count(vim.diagnostic.severity.ERROR) > 0 end, 20) then
  say('nothing was said of the list')
  finish(1)
end
say('stops shown:', tostring(count(vim.diagnostic.severity.ERROR)))
verdict()

local whole = { start = { line = 0, character = 0 }, ['end'] = { line = 0, character = 0 } }
local actions = request('textDocument/codeAction', {
  textDocument = text, range = whole, context = { diagnostics = {}, only = { 'source.fixAll' } },
})
local repair
for _, action in ipairs(actions) do
  if not repair and action.title:find('^Mend every stop') then repair = action end
end
if not repair then
  say('no repair is offered', vim.inspect(actions))
  finish(1)
end
say('offered:', repair.title)
vim.lsp.util.apply_workspace_edit(repair.edit, 'utf-16')
if not vim.wait(minutes, function() return count(vim.diagnostic.severity.ERROR) == 0 end, 20) then
  say('stops stay:', vim.inspect(vim.diagnostic.get(0)))
  finish(1)
end
say('stops shown:', tostring(count(vim.diagnostic.severity.ERROR)))
verdict()
vim.cmd('silent write! ' .. os.getenv('DRYFIT_MENDED'))
finish(0)
