// The client of the language server: started with the first setup, and what goes over the wire besides the protocol's own.
import * as os from "node:os";
import * as vscode from "vscode";
import { LanguageClient, LanguageClientOptions, State } from "vscode-languageclient/node";
import { Found, findServer } from "./server";
import { places, wants } from "./settings";

export interface Status {
  uri: string;
  text: string; // as "1 danger, 8 not judged"
}

export interface Trial {
  uri: string;
  kind: string;
  name: string;
}

export interface TriedState {
  error?: string;
  steps: string[];
  controls: Record<string, number | string>;
  conditions: string[];
  smoothing: Record<string, string>;
}

type Page = { html: string; name: string; error?: undefined } | { error: string };

/** What the client does not do itself. */
export interface Listener {
  onStatus(status: Status): void;
  onTry(trial: Trial): void;
  onSummary(uri: string): void;
  onMissing(): void; // no server was found
}

export class Server {
  readonly log = vscode.window.createOutputChannel("Setuplint", { log: true });
  private client: LanguageClient | undefined;
  private starting: Promise<void> | undefined;

  constructor(
    private readonly context: vscode.ExtensionContext,
    private readonly listener: Listener,
  ) {
    context.subscriptions.push(this.log);
  }

  get isRunning(): boolean {
    return this.client?.state === State.Running;
  }

  /** Started once, if there is one; later calls wait for that. */
  start(): Promise<void> {
    this.starting ??= this.startAnew();
    return this.starting;
  }

  async restart(): Promise<void> {
    await this.stop();
    await this.start();
  }

  /** With what the settings say now, if a setup asked for it before. */
  async restartIfStarted(): Promise<void> {
    if (this.starting) await this.restart();
  }

  async stop(): Promise<void> {
    const client = this.client;
    this.client = this.starting = undefined;
    if (client?.needsStop()) await client.dispose();
  }

  find(): Found | undefined {
    try {
      return findServer(places(this.context));
    } catch (error) {
      void vscode.window.showErrorMessage(`Setuplint: ${(error as Error).message}`);
      throw error;
    }
  }

  async page(uri: string, of: string): Promise<Page> {
    return this.execute<Page>("setuplint.page", { uri, of });
  }

  async tried(trial: Trial): Promise<TriedState> {
    return this.execute<TriedState>("setuplint.try", { ...trial, quietly: true });
  }

  async summary(uri: string): Promise<{ text?: string; error?: string }> {
    return this.execute("setuplint.summary", { uri, quietly: true });
  }

  private async execute<Result>(command: string, argument: object): Promise<Result> {
    await this.start();
    if (!this.client) return { error: "the server does not run" } as Result;
    try {
      return await this.client.sendRequest("workspace/executeCommand", { command, arguments: [argument] });
    } catch (error) {
      return { error: `the server does not answer: ${(error as Error).message}` } as Result;
    }
  }

  private async startAnew(): Promise<void> {
    let found: Found | undefined;
    try {
      found = this.find();
    } catch {
      return; // it was told
    }
    await vscode.commands.executeCommand("setContext", "setuplint.hasServer", found !== undefined);
    if (!found) {
      this.log.info("no server: no setting, no variable, no .venv in a trusted workspace, none on the PATH, none installed");
      this.listener.onMissing();
      return;
    }
    this.log.info(`the server is ${found.program}, by ${found.by}`);
    // Not in the workspace's folder: nothing that lies there is to be found by a program's own search.
    const run = { command: found.program, args: ["serve"], options: { cwd: os.homedir() } };
    this.client = new LanguageClient("setuplint", "Setuplint", run, this.options());
    this.client.onNotification("$/setuplint/status", (status: Status) => this.listener.onStatus(status));
    try {
      await this.client.start();
    } catch (error) {
      this.log.error(`the server did not start: ${String(error)}`);
    }
  }

  private options(): LanguageClientOptions {
    return {
      documentSelector: ["file", "untitled"].map((scheme) => ({ scheme, language: "toml" })),
      outputChannel: this.log,
      middleware: {
        executeCommand: (command, given, next) => {
          const argument = given[0] as Trial;
          if (command === "setuplint.try") return this.listener.onTry(argument);
          if (command === "setuplint.summary") return this.listener.onSummary(argument.uri);
          return next(command, given);
        },
        provideCodeLenses: async (document, token, next) => {
          const lenses = wants("lenses") ? ((await next(document, token)) ?? []) : [];
          return lenses.length ? [...pageLenses(document), ...lenses.map(asButton)] : [];
        },
      },
    };
  }
}

/** A lens's title as a button reads it. */
function asButton(lens: vscode.CodeLens): vscode.CodeLens {
  const words = lens.command?.title ?? "";
  const title = words.startsWith("try ") ? `$(play)\u00a0Try ${words.slice(4).replace(/ here$/, "")}` : `$(checklist)\u00a0${words}`;
  return new vscode.CodeLens(lens.range, lens.command && { ...lens.command, title });
}

function pageLenses(document: vscode.TextDocument): vscode.CodeLens[] {
  const pages: [string, string][] = [
    ["$(open-preview)\u00a0Report", "setuplint.showReport"],
    ["$(tasklist)\u00a0Bench card", "setuplint.showCard"],
  ];
  const top = new vscode.Range(0, 0, 0, 0);
  return pages.map(([title, command]) => new vscode.CodeLens(top, { title, command, arguments: [document.uri] }));
}
