// Report, bench card and sheet beside the text. They follow it: its changes, its cursor, and what is tried.
import { randomBytes } from "node:crypto";
import * as fs from "node:fs";
import * as path from "node:path";
import * as vscode from "vscode";
import type { Server, Trial } from "./client";
import { Part, partAt } from "./setups";
import { wants } from "./settings";
import { webviewHtml } from "./webview_html";

export const TITLES = { report: "Report", "bench-card": "Bench card", sheet: "Sheet" } as const;
export type Kind = keyof typeof TITLES;

/** What the explorer of a report shows just now. */
export interface Shown {
  channels: Record<string, { text: string; by: string[] }>;
  modes: string[];
}

const PAUSE = 250; // milliseconds of rest before a page follows a change

class Page {
  readonly panel: vscode.WebviewPanel;
  private timer: NodeJS.Timeout | undefined;
  private waiting: object[] = []; // for a page that is being loaded
  private followed: object | undefined; // where the cursor was last: marked again when the page is made again
  private tried: object | undefined; // until the page that stands has it: one that is made again meanwhile loses what it heard
  private making = ""; // which making of the page stands
  private isLoaded = false;
  private loaded = ""; // the setup that its page is of

  constructor(
    private readonly pages: Pages,
    readonly kind: Kind,
    public uri: string,
  ) {
    const where = { viewColumn: vscode.ViewColumn.Beside, preserveFocus: true };
    const options = { enableScripts: true, localResourceRoots: [], enableFindWidget: true };
    this.panel = vscode.window.createWebviewPanel(`setuplint.${kind}`, TITLES[kind], where, options);
    this.panel.webview.onDidReceiveMessage((message) => this.hear(message));
  }

  refresh(pause = PAUSE): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.load(), pause);
  }

  /** To another setup. What is sent from now on is for its page. */
  turn(uri: string): void {
    this.uri = uri;
    this.tried = undefined;
    this.isLoaded = false;
    this.refresh(0);
  }

  follow(part: Part | undefined, lines: number[]): void {
    this.waiting = this.waiting.filter((each) => each !== this.followed);
    this.followed = { kind: "follow", part, lines };
    this.send(this.followed);
  }

  tryState(trial: object): void {
    this.waiting = this.waiting.filter((each) => each !== this.tried);
    this.tried = { kind: "try", ...trial };
    this.send(this.tried);
  }

  private send(message: object): void {
    if (this.isLoaded) void this.panel.webview.postMessage(message);
    else this.waiting.push(message);
  }

  private async load(): Promise<void> {
    const uri = this.uri;
    const page = await this.pages.server.page(uri, this.kind);
    if (uri !== this.uri) return;
    if (page.error !== undefined) {
      if (this.loaded === uri) return this.send({ kind: "stale", words: page.error });
      this.panel.webview.html = plainPage(page.error);
      return;
    }
    this.isLoaded = false;
    this.loaded = uri;
    this.panel.title = `${TITLES[this.kind]}: ${page.name}`;
    this.making = randomBytes(16).toString("base64");
    const { script, style } = this.pages.bridge;
    this.panel.webview.html = webviewHtml(page.html, this.making, script, style, uri);
  }

  private hear(message: { kind: string; making: string; shown: Shown; line: number }): void {
    if (message.kind === "open") return void this.pages.openLine(this.uri, message.line);
    if (message.making !== this.making) return; // a page that is being replaced
    if (message.kind === "ready") this.tellLoaded();
    else if (message.kind === "tried") this.tried = undefined;
    else if (message.kind === "shown") this.pages.onShown(this.uri, message.shown);
  }

  private tellLoaded(): void {
    this.isLoaded = true;
    const messages = this.waiting.splice(0);
    if (this.tried && !messages.includes(this.tried)) messages.push(this.tried);
    if (this.followed && !messages.includes(this.followed)) messages.push({ ...this.followed, still: true });
    messages.forEach((each) => this.send(each));
  }
}

export class Pages {
  readonly bridge: { script: string; style: string };
  private readonly open = new Map<Kind, Page>();

  constructor(
    context: vscode.ExtensionContext,
    readonly server: Server,
    readonly onShown: (uri: string, shown: Shown | undefined) => void,
  ) {
    const read = (name: string) => fs.readFileSync(path.join(context.extensionPath, "media", name), "utf8");
    this.bridge = { script: read("bridge.js"), style: read("bridge.css") };
    context.subscriptions.push({ dispose: () => this.open.forEach((each) => each.panel.dispose()) });
  }

  show(kind: Kind, uri: string): Page {
    let page = this.open.get(kind);
    if (!page) {
      page = new Page(this, kind, uri);
      this.open.set(kind, page);
      page.panel.onDidDispose(() => {
        this.open.delete(kind);
        if (kind === "report") this.onShown(page!.uri, undefined);
      });
      page.refresh(0);
    } else {
      this.turnTo(page, uri);
      page.panel.reveal(undefined, true);
    }
    return page;
  }

  /** A text was judged again. */
  judged(uri: string): void {
    for (const page of this.open.values()) if (page.uri === uri) page.refresh();
  }

  /** The cursor came to another place, maybe of another setup. */
  follow(editor: vscode.TextEditor): void {
    const uri = editor.document.uri.toString();
    const at = editor.selection.active;
    const part = partAt((line) => editor.document.lineAt(line).text, at.line);
    const rules = vscode.languages
      .getDiagnostics(editor.document.uri)
      .filter((each) => each.source === "setuplint" && each.range.start.line <= at.line && at.line <= each.range.end.line)
      .map((each) => each.range.start.line + 1);
    for (const page of this.open.values()) {
      this.turnTo(page, uri);
      if (wants("followCursor")) page.follow(part, rules);
    }
  }

  /** The state that a part is about, in the report's explorer; the other pages go to that part. */
  async tryState(trial: Trial): Promise<void> {
    const tried = await this.server.tried(trial);
    if (tried.error !== undefined) {
      void vscode.window.showWarningMessage(`Setuplint: ${tried.error}`);
      return;
    }
    const words = `${trial.kind} ${trial.name}: ${tried.steps.join("; ")}.`;
    this.show("report", trial.uri).tryState({ words, controls: tried.controls, conditions: tried.conditions, smoothing: tried.smoothing });
    const part: Part = { table: TABLES[trial.kind] ?? trial.kind, name: trial.name, line: 0 };
    for (const page of this.open.values()) if (page.kind !== "report") page.follow(part, []);
  }

  async openLine(uri: string, line: number): Promise<void> {
    const document = await vscode.workspace.openTextDocument(vscode.Uri.parse(uri));
    const column = vscode.window.visibleTextEditors.find((each) => each.document === document)?.viewColumn;
    const selection = new vscode.Range(line - 1, 0, line - 1, 0);
    await vscode.window.showTextDocument(document, { viewColumn: column ?? vscode.ViewColumn.One, selection });
  }

  private turnTo(page: Page, uri: string): void {
    if (page.uri === uri) return;
    if (page.kind === "report") this.onShown(page.uri, undefined);
    page.turn(uri);
  }
}

const TABLES: Record<string, string> = { mode: "modes", override: "overrides", intent: "intent" };

function plainPage(words: string): string {
  const safe = words.replace(/&/g, "&amp;").replace(/</g, "&lt;");
  return `<!doctype html><meta http-equiv="Content-Security-Policy" content="default-src 'none'"><p>${safe}</p>`;
}
