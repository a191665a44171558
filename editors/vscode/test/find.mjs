// Where the server is found: `node test/find.mjs < CASES` reads places in JSON, one a line, and prints what each comes to. With
// `setups` it reads texts instead, and prints whether each may be a setup.
import esbuild from "esbuild";
import fs from "node:fs";
import path from "node:path";

async function loaded(name) {
  const entryPoints = [path.join(import.meta.dirname, "..", "src", `${name}.ts`)];
  const { outputFiles } = await esbuild.build({ entryPoints, bundle: true, platform: "node", format: "esm", write: false });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].contents).toString("base64")}`);
}

const lines = fs.readFileSync(0, "utf8").trim().split("\n").map((line) => JSON.parse(line));
if (process.argv[2] === "setups") {
  const { mayBeSetup } = await loaded("setups");
  for (const text of lines) console.log(mayBeSetup(text));
} else {
  const { findServer } = await loaded("server");
  for (const places of lines) {
    try {
      console.log(JSON.stringify(findServer(places) ?? null));
    } catch (error) {
      console.log(JSON.stringify({ error: error.message }));
    }
  }
}
