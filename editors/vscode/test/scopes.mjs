// The scopes of a TOML text, as the editor's own engine gives them: `node test/scopes.mjs < FILE` prints a line for each token,
// its text in JSON and its scopes.
import * as fs from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import oniguruma from "vscode-oniguruma";
import textmate from "vscode-textmate";

const here = path.join(import.meta.dirname, "..", "syntaxes");
const wasm = fs.readFileSync(createRequire(import.meta.url).resolve("vscode-oniguruma/release/onig.wasm"));
await oniguruma.loadWASM(wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength));
const files = { "source.toml": "toml", "setuplint.tables": "tables", "setuplint.formulas": "formulas" };
const registry = new textmate.Registry({
  onigLib: Promise.resolve({
    createOnigScanner: (patterns) => new oniguruma.OnigScanner(patterns),
    createOnigString: (text) => new oniguruma.OnigString(text),
  }),
  loadGrammar: async (scope) => textmate.parseRawGrammar(fs.readFileSync(path.join(here, `${files[scope]}.tmLanguage.json`), "utf8"), "x.json"),
  getInjections: (scope) => (scope === "source.toml" ? ["setuplint.tables", "setuplint.formulas"] : []),
});
const grammar = await registry.loadGrammar("source.toml");
let stack = textmate.INITIAL;
for (const line of fs.readFileSync(0, "utf8").split("\n")) {
  const { tokens, ruleStack } = grammar.tokenizeLine(line, stack);
  stack = ruleStack;
  for (const { startIndex, endIndex, scopes } of tokens)
    if (line.slice(startIndex, endIndex).trim()) console.log(JSON.stringify(line.slice(startIndex, endIndex)), scopes.slice(1).join(" "));
}
