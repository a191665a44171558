// Inert until a text that may be a setup is open, or a command of ours is called.
import { execFile } from "node:child_process";
import * as fs from "node:fs/promises";
import * as path from "node:path";
import * as vscode from "vscode";
import { Server, Status } from "./client";
import { installServer } from "./install";
import { OutputsInText } from "./outputs";
import { Kind, Pages } from "./pages";
import { mayBeSetup } from "./setups";

let server: Server | undefined;
const NEVER = "setuplint.neverOffer";

export function activate(context: vscode.ExtensionContext): void {
  const outputs = new OutputsInText(context);
  const bar = new StatusBar(context);
  const running = new Server(context, {
    onStatus: (status) => {
      bar.tell(status);
      pages.judged(status.uri);
    },
    onTry: (trial) => void pages.tryState(trial),
    onSummary: (uri) => void showSummary(uri),
    onMissing: () => void offer(context),
  });
  const pages = new Pages(context, running, (uri, shown) => outputs.show(uri, shown));
  server = running;
  addCommands(context, running, pages);
  watchEditors(context, running, pages, outputs, bar);
}

export async function deactivate(): Promise<void> {
  await server?.stop();
}

function addCommands(context: vscode.ExtensionContext, running: Server, pages: Pages): void {
  const page = (kind: Kind) => (uri?: vscode.Uri) => {
    const given = uri ?? setupInView()?.uri;
    if (given) {
      pages.show(kind, given.toString());
      const editor = vscode.window.visibleTextEditors.find((each) => each.document.uri.toString() === given.toString());
      if (editor) pages.follow(editor);
    } else void vscode.window.showInformationMessage("Open a setup first.");
  };
  const commands: Record<string, (...given: never[]) => unknown> = {
    "setuplint.showReport": page("report"),
    "setuplint.showCard": page("bench-card"),
    "setuplint.showSheet": page("sheet"),
    "setuplint.showSummary": () => showSummary(setupInView()?.uri.toString() ?? ""),
    "setuplint.newSetup": () => newSetup(running),
    "setuplint.openExample": () => openExample(context),
    "setuplint.restart": () => running.restart(),
    "setuplint.install": async () => {
      if (await installServer(context, running.log)) await running.restart();
    },
  };
  for (const [name, call] of Object.entries(commands))
    context.subscriptions.push(vscode.commands.registerCommand(name, call));
}

function watchEditors(context: vscode.ExtensionContext, running: Server, pages: Pages, outputs: OutputsInText, bar: StatusBar): void {
  const look = (document: vscode.TextDocument) => {
    if (isCandidate(document)) void running.start();
  };
  const tellEditor = (editor: vscode.TextEditor | undefined) => {
    if (!editor) return; // a page has the focus: its setup is still the one in view
    void vscode.commands.executeCommand("setContext", "setuplint.inSetup", isCandidate(editor.document));
  };
  let timer: NodeJS.Timeout | undefined;
  context.subscriptions.push(
    vscode.workspace.onDidOpenTextDocument(look),
    vscode.workspace.onDidChangeTextDocument(({ document }) => {
      if (!running.isRunning) look(document);
      if (document === vscode.window.activeTextEditor?.document) tellEditor(vscode.window.activeTextEditor);
      vscode.window.visibleTextEditors.filter((each) => each.document === document).forEach((each) => outputs.draw(each));
    }),
    vscode.workspace.onDidCloseTextDocument((document) => bar.forget(document.uri.toString())),
    vscode.workspace.onDidGrantWorkspaceTrust(() => running.restartIfStarted()),
    vscode.workspace.onDidChangeConfiguration((change) => {
      if (change.affectsConfiguration("setuplint.server")) void running.restartIfStarted();
    }),
    vscode.window.onDidChangeActiveTextEditor((editor) => {
      bar.show();
      tellEditor(editor);
      if (editor && isCandidate(editor.document)) pages.follow(editor);
    }),
    vscode.window.onDidChangeVisibleTextEditors((editors) => editors.forEach((each) => outputs.draw(each))),
    vscode.window.onDidChangeTextEditorSelection(({ textEditor }) => {
      clearTimeout(timer);
      if (isCandidate(textEditor.document)) timer = setTimeout(() => pages.follow(textEditor), 150);
    }),
  );
  tellEditor(vscode.window.activeTextEditor);
  vscode.workspace.textDocuments.forEach(look);
}

/** A text that the server may have something to say of. */
function isCandidate(document: vscode.TextDocument): boolean {
  if (document.languageId !== "toml" || !["file", "untitled"].includes(document.uri.scheme)) return false;
  return path.basename(document.uri.path) === "setuplint.toml" || mayBeSetup(document.getText());
}

/** The setup in the editor that was used last, also while a page of it has the focus. */
function setupInView(): vscode.TextDocument | undefined {
  const editors = [vscode.window.activeTextEditor, ...vscode.window.visibleTextEditors];
  return editors.find((each) => each && isCandidate(each.document))?.document;
}

async function showSummary(uri: string): Promise<void> {
  const said = await server!.summary(uri);
  if (said.error !== undefined) void vscode.window.showWarningMessage(`Setuplint: ${said.error}`);
  const detail = (said.text ?? "").replace(/([^.:\n])\n(?=\S)/g, "$1 "); // lines end for a terminal, sentences for a dialog
  if (said.error === undefined) void vscode.window.showInformationMessage("What was decided", { modal: true, detail });
}

/** Once a session, and never again when that is said. Nothing is installed by this. */
async function offer(context: vscode.ExtensionContext): Promise<void> {
  if (context.globalState.get<boolean>(NEVER)) return;
  const words = "Setuplint found no server, so this setup is not judged.";
  const answer = await vscode.window.showInformationMessage(words, "Install…", "Where it is…", "Never ask");
  if (answer === "Install…") await vscode.commands.executeCommand("setuplint.install");
  if (answer === "Where it is…") await vscode.commands.executeCommand("workbench.action.openSettings", "setuplint.server.path");
  if (answer === "Never ask") await context.globalState.update(NEVER, true);
}

async function openExample(context: vscode.ExtensionContext): Promise<void> {
  const file = path.join(context.extensionPath, "server", "examples", "hazards", "rescue-beats-hold.toml");
  const content = await fs.readFile(file, "utf8");
  await vscode.window.showTextDocument(await vscode.workspace.openTextDocument({ language: "toml", content }));
}

async function newSetup(running: Server): Promise<void> {
  const found = running.find();
  if (!found) return void vscode.commands.executeCommand("setuplint.install");
  const kinds = [
    { label: "Collective pitch", description: "the blades' angle lifts the craft", rotor: "collective" },
    { label: "Fixed pitch", description: "the rotor's speed lifts the craft", rotor: "fixed" },
  ];
  const kind = await vscode.window.showQuickPick(kinds, { title: "What carries the craft?" });
  const folder = vscode.workspace.workspaceFolders?.[0]?.uri;
  const defaultUri = folder && vscode.Uri.joinPath(folder, "setup.toml");
  const where = { filters: { Setup: ["toml"] }, title: "Where is the setup to be?", defaultUri };
  const file = kind && (await vscode.window.showSaveDialog(where));
  if (!file) return;
  const said = await new Promise<{ code: unknown; stderr: string }>((done) =>
    execFile(found.program, ["new", file.fsPath, "--rotor", kind.rotor], { cwd: path.dirname(file.fsPath) }, (error, _, stderr) =>
      done({ code: error ? error.code : 0, stderr }),
    ),
  );
  if (said.code !== 0 && said.code !== 1) return void vscode.window.showErrorMessage(`Setuplint: ${said.stderr.trim()}`);
  await vscode.window.showTextDocument(file);
}

class StatusBar {
  private readonly item = vscode.window.createStatusBarItem("setuplint.status", vscode.StatusBarAlignment.Left);
  private readonly texts = new Map<string, string>();
  private uri = ""; // of the text in view, also while a page beside it has the focus

  constructor(context: vscode.ExtensionContext) {
    this.item.name = "Setuplint";
    this.item.command = "setuplint.showSummary";
    this.item.tooltip = "What was found, not judged and not decided. A clean result is not a clearance to fly.";
    context.subscriptions.push(this.item);
  }

  tell(status: Status): void {
    this.texts.set(vscode.Uri.parse(status.uri).toString(), status.text);
    this.show();
  }

  forget(uri: string): void {
    this.texts.delete(uri);
    this.show();
  }

  show(): void {
    this.uri = vscode.window.activeTextEditor?.document.uri.toString() ?? this.uri;
    const text = this.texts.get(this.uri);
    if (text === undefined) return this.item.hide();
    this.item.text = `$(shield) ${text}`;
    this.item.show();
  }
}
