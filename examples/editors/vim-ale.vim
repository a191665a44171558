" setuplint in Vim, by ALE. Put this into ~/.vim/ale_linters/toml/setuplint.vim; from there ALE takes it by itself.
" It needs `setuplint` (with its extra: setuplint[editor]) on the PATH. :ALEHover says what is under the cursor, :ALECodeAction
" has remedies, :ALEGoToDefinition and :ALERename go by names.

function! ale_linters#toml#setuplint#root(buffer) abort
  let l:file = fnamemodify(bufname(a:buffer), ':p')
  let l:git = finddir('.git', fnamemodify(l:file, ':h') . ';')
  return empty(l:git) ? fnamemodify(l:file, ':h') : fnamemodify(l:git, ':p:h:h')
endfunction

call ale#linter#Define('toml', {
\   'name': 'setuplint',
\   'lsp': 'stdio',
\   'executable': 'setuplint',
\   'command': '%e serve',
\   'language': 'toml',
\   'project_root': function('ale_linters#toml#setuplint#root'),
\})
