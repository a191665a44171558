// Where the server is. Nothing here knows of the editor, so that it can be tried without one.
import * as fs from "node:fs";
import * as path from "node:path";

export interface Places {
  setting: string; // setuplint.server.path, as the editor gives it: in an untrusted workspace the user's alone
  environment: NodeJS.ProcessEnv;
  folders: string[]; // of the workspace
  trusted: boolean; // whether programs of the workspace may be run
  own: string; // the environment that this extension makes when it is told to
  windows: boolean;
}

export interface Found {
  program: string;
  by: string; // how it was found, for the log
}

/** The server's program, or undefined; a setting or variable that names none is an error that says so. */
export function findServer(places: Places): Found | undefined {
  const named: [string, string][] = [
    [places.setting, "the setting setuplint.server.path"],
    [places.environment.SETUPLINT_SERVER ?? "", "the variable SETUPLINT_SERVER"],
  ];
  for (const [program, by] of named) {
    if (program === "") continue;
    if (!path.isAbsolute(program)) throw new Error(`${by} names ${program}: give the whole path of setuplint`);
    if (!isProgram(program)) throw new Error(`${by} names ${program}: there is no such program`);
    return { program, by };
  }
  if (places.trusted)
    for (const folder of places.folders) {
      const program = inEnvironment(path.join(folder, ".venv"), places.windows);
      if (isProgram(program)) return { program, by: "the workspace's .venv" };
    }
  const onPath = findOnPath(["setuplint"], places);
  if (onPath) return { program: onPath, by: "PATH" };
  const own = inEnvironment(places.own, places.windows);
  return isProgram(own) ? { program: own, by: "the extension's own environment" } : undefined;
}

/** The first of some programs that is on the PATH. Only whole paths of it count, and none inside an untrusted workspace. */
export function findOnPath(names: string[], places: Pick<Places, "environment" | "windows" | "folders" | "trusted">): string | undefined {
  const folders = (places.environment.PATH ?? places.environment.Path ?? "").split(places.windows ? ";" : ":");
  const outside = (folder: string) => places.trusted || !places.folders.some((each) => isInside(folder, each));
  for (const name of names)
    for (const folder of folders.filter((each) => path.isAbsolute(each) && outside(each))) {
      const program = path.join(folder, places.windows ? `${name}.exe` : name);
      if (isProgram(program)) return program;
    }
  return undefined;
}

export function inEnvironment(environment: string, windows: boolean, name = "setuplint"): string {
  return windows ? path.join(environment, "Scripts", `${name}.exe`) : path.join(environment, "bin", name);
}

function isInside(folder: string, other: string): boolean {
  const way = path.relative(realPath(other), realPath(folder));
  return way === "" || (!way.startsWith("..") && !path.isAbsolute(way));
}

function realPath(given: string): string {
  try {
    return fs.realpathSync(given);
  } catch {
    return given;
  }
}

function isProgram(file: string): boolean {
  try {
    fs.accessSync(file, fs.constants.X_OK);
    return fs.statSync(file).isFile();
  } catch {
    return false;
  }
}
