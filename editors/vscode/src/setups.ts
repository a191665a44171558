// What of a text can be told without the server: whether it may be a setup, and which part of it a line is in.

const TABLES =
  "craft|battery|packs|receiver-supply|sticks|knobs|switches|sensors|conditions|modes|curves|channels|overrides|alarms|" +
  "failsafe|timers|swash|trainer|intent|claims|waivers";
const SIGN = new RegExp(`^[ \\t]*(format[ \\t]*=[ \\t]*\\d+[ \\t]*(#.*)?$|\\[{1,2}[ \\t]*(${TABLES})[ \\t]*[.\\]])`, "gm");
const HEADER = /^[ \t]*\[{1,2}[ \t]*([A-Za-z0-9_-]+)(?:[ \t]*\.[ \t]*"?([A-Za-z0-9_-]+)"?)?[^\]]*\]/;

/** Whether the server is worth starting for a text: only a few tables and `format = 1` count, and the server decides. */
export function mayBeSetup(text: string): boolean {
  const tables = new Set<string>();
  for (const match of text.matchAll(SIGN)) {
    if (match[3] === undefined) return true;
    tables.add(match[3]);
    if (tables.size > 1) return true;
  }
  return false;
}

export interface Part {
  table: string; // as in the file: overrides
  name: string; // held; empty for [craft] and the like
  line: number; // of its header, from 0
}

/** The table that a line is in. */
export function partAt(lines: (line: number) => string, line: number): Part | undefined {
  for (let at = line; at >= 0; at -= 1) {
    const match = HEADER.exec(lines(at));
    if (match) return { table: match[1]!, name: match[2] ?? "", line: at };
  }
  return undefined;
}

/** Every table of a text with its line. */
export function parts(lines: (line: number) => string, count: number): Part[] {
  const found: Part[] = [];
  for (let line = 0; line < count; line += 1) {
    const match = HEADER.exec(lines(line));
    if (match) found.push({ table: match[1]!, name: match[2] ?? "", line });
  }
  return found;
}
