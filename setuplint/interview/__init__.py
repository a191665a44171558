"""The interview for a first setup: questions, readers of replies and pieces of TOML, all of them data in `interview.toml` and
`pieces.toml`. `new` interprets them here, and a page of `new --page` in `interview.js`; neither knows a question by name."""
