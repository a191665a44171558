// What the settings and the editor say of where the server is.
import * as path from "node:path";
import * as vscode from "vscode";
import type { Places } from "./server";

/** Beside the editor's other data, one for each version of the extension. */
export function ownEnvironment(context: vscode.ExtensionContext): string {
  const version = (context.extension.packageJSON as { version: string }).version;
  return path.join(context.globalStorageUri.fsPath, `server-${version}`);
}

export function places(context: vscode.ExtensionContext): Places {
  return {
    setting: vscode.workspace.getConfiguration("setuplint").get<string>("server.path", ""),
    environment: process.env,
    folders: (vscode.workspace.workspaceFolders ?? []).filter((each) => each.uri.scheme === "file").map((each) => each.uri.fsPath),
    trusted: vscode.workspace.isTrusted,
    own: ownEnvironment(context),
    windows: process.platform === "win32",
  };
}

export function wants(name: "followCursor" | "outputsInText" | "lenses"): boolean {
  return vscode.workspace.getConfiguration("setuplint").get<boolean>(name, true);
}
