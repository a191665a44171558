// What the explorer of the report shows, in the text: what each channel puts out, and what decides it.
import * as vscode from "vscode";
import type { Shown } from "./pages";
import { parts } from "./setups";
import { wants } from "./settings";

export class OutputsInText {
  private readonly type = vscode.window.createTextEditorDecorationType({
    after: { color: new vscode.ThemeColor("editorCodeLens.foreground"), margin: "0 0 0 2em", fontStyle: "italic" },
    rangeBehavior: vscode.DecorationRangeBehavior.ClosedClosed,
  });
  private readonly shown = new Map<string, Shown>();

  constructor(context: vscode.ExtensionContext) {
    context.subscriptions.push(this.type);
  }

  show(uri: string, shown: Shown | undefined): void {
    if (shown) this.shown.set(uri, shown);
    else this.shown.delete(uri);
    for (const editor of vscode.window.visibleTextEditors) if (editor.document.uri.toString() === uri) this.draw(editor);
  }

  draw(editor: vscode.TextEditor): void {
    const { document } = editor;
    const shown = wants("outputsInText") ? this.shown.get(document.uri.toString()) : undefined;
    const found: vscode.DecorationOptions[] = [];
    for (const part of shown ? parts((line) => document.lineAt(line).text, document.lineCount) : []) {
      const contentText = words(shown!, part.table, part.name);
      const end = document.lineAt(part.line).range.end;
      if (contentText) found.push({ range: new vscode.Range(end, end), renderOptions: { after: { contentText } } });
    }
    editor.setDecorations(this.type, found);
  }
}

function words(shown: Shown, table: string, name: string): string {
  if (table === "channels") {
    const channel = shown.channels[name];
    return channel ? `now ${channel.text} by ${channel.by.map((each) => each || "its own line").join(" or ")}` : "";
  }
  if (table === "overrides") {
    const decided = Object.entries(shown.channels).filter(([, each]) => each.by.includes(name));
    return decided.map(([channel, each]) => `now decides ${channel}: ${each.text}`).join(", ");
  }
  return table === "modes" && shown.modes.includes(name) ? "now flown" : "";
}
