// The server that comes with this extension, put into an environment of its own. Only ever when somebody says so.
import { execFile } from "node:child_process";
import * as fs from "node:fs/promises";
import * as os from "node:os";
import * as path from "node:path";
import { promisify } from "node:util";
import * as vscode from "vscode";
import { findOnPath, inEnvironment } from "./server";
import { ownEnvironment, places } from "./settings";

const run = promisify(execFile);
const OLDEST = [3, 11];

/** Asks, makes the environment, and installs. Whether the server is there afterwards. */
export async function installServer(context: vscode.ExtensionContext, log: vscode.LogOutputChannel): Promise<boolean> {
  const source = path.join(context.extensionPath, "server");
  const own = ownEnvironment(context);
  const python = await findPython(context);
  if (python === undefined) {
    const words = `Setuplint needs Python ${OLDEST.join(".")} or later: none is on the PATH, and setuplint.python names none.`;
    void vscode.window.showErrorMessage(words);
    return false;
  }
  const detail =
    `A Python environment is made with ${python} in\n${own}\nand the server that came with this extension is installed there. ` +
    "What it needs (networkx, pydantic, python-sat, tomli-w, pygls) comes from the package index that pip is set to.";
  const answer = await vscode.window.showInformationMessage("Install the Setuplint server?", { modal: true, detail }, "Install");
  if (answer !== "Install") return false;
  const title = "Setuplint: installing the server";
  try {
    await vscode.window.withProgress({ location: vscode.ProgressLocation.Notification, title, cancellable: true }, (_, cancel) =>
      install(python, source, own, cancel),
    );
    return true;
  } catch (error) {
    await fs.rm(own, { recursive: true, force: true });
    const said = error as { name: string; stdout?: string; stderr?: string; message: string };
    if (said.name === "AbortError") return false; // cancelled
    log.error(`${said.message}\n${said.stdout ?? ""}\n${said.stderr ?? ""}`);
    const words = "The Setuplint server could not be installed. The log has what Python said.";
    if (await vscode.window.showErrorMessage(words, "Show the Log")) log.show();
    return false;
  }
}

/**
 * In a folder that is not the workspace's, with -I: nothing that lies in a repository is imported. From a copy, as a build writes
 * beside its sources.
 */
async function install(python: string, source: string, own: string, cancel: vscode.CancellationToken): Promise<void> {
  const stop = new AbortController();
  cancel.onCancellationRequested(() => stop.abort());
  await fs.mkdir(path.dirname(own), { recursive: true });
  const options = { cwd: path.dirname(own), signal: stop.signal, maxBuffer: 1 << 26 };
  await run(python, ["-I", "-m", "venv", "--clear", own], options);
  const pip = inEnvironment(own, process.platform === "win32", "python");
  const copy = await fs.mkdtemp(path.join(os.tmpdir(), "setuplint-"));
  try {
    await fs.cp(source, copy, { recursive: true });
    await run(pip, ["-I", "-m", "pip", "--disable-pip-version-check", "install", `${copy}[editor]`], options);
  } finally {
    await fs.rm(copy, { recursive: true, force: true });
  }
}

async function findPython(context: vscode.ExtensionContext): Promise<string | undefined> {
  const named = vscode.workspace.getConfiguration("setuplint").get<string>("python", "");
  const names = ["python3", "python", ...[14, 13, 12, 11].map((minor) => `python3.${minor}`)];
  const found = named === "" ? names.map((name) => findOnPath([name], places(context))) : [named];
  for (const each of new Set(found))
    if (each !== undefined && path.isAbsolute(each) && (await isYoungEnough(each))) return each;
  return undefined;
}

async function isYoungEnough(python: string): Promise<boolean> {
  try {
    await run(python, ["-I", "-c", `import sys, venv, ensurepip; sys.exit(sys.version_info < (${OLDEST.join(", ")}))`]);
    return true;
  } catch {
    return false;
  }
}
