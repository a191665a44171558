// The extension as a .vsix: our code bundled with the client library, and the server's own source, of the same version. A .vsix
// is a zip with two small files of its own; the usual packager would bring 300 packages to make it. The same sources give the
// same bytes, on every machine: names in order, one time for all, and a deflate that is written in JavaScript.
import esbuild from "esbuild";
import { strToU8, zipSync } from "fflate";
import fs from "node:fs";
import path from "node:path";

const here = import.meta.dirname;
const root = path.join(here, "..", "..");
const about = JSON.parse(fs.readFileSync(path.join(here, "package.json"), "utf8"));
const WHEN = new Date(2026, 0, 1); // a zip has no time zones: every machine writes this day
const OURS = ["LICENSE", "README.md", "language-configuration.json", "media", "syntaxes", "walkthrough"];
const EXAMPLES = ["examples/reference.toml", "examples/hazards/rescue-beats-hold.toml"];
const SERVERS = ["LICENSE", "README.md", "pyproject.toml", "hatch_build.py", "setuplint", "rules", ...EXAMPLES];

function filesOf(folder, name) {
  const at = path.join(folder, name);
  if (!fs.statSync(at).isDirectory()) return [name];
  const inside = fs.readdirSync(at).filter((each) => each !== "__pycache__" && !each.startsWith("."));
  return inside.flatMap((each) => filesOf(folder, `${name}/${each}`));
}

function escaped(text) {
  return text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;").replace(/"/g, "&quot;");
}

function manifest() {
  const { name, version, publisher, displayName, description, engines, keywords, categories } = about;
  const properties = { "Microsoft.VisualStudio.Code.Engine": engines.vscode, "Microsoft.VisualStudio.Code.ExtensionKind": "workspace" };
  return `<?xml version="1.0" encoding="utf-8"?>
<PackageManifest Version="2.0.0" xmlns="http://schemas.microsoft.com/developer/vsx-schema/2011">
<Metadata>
<Identity Language="en-US" Id="${name}" Version="${version}" Publisher="${publisher}"/>
<DisplayName>${escaped(displayName)}</DisplayName>
<Description xml:space="preserve">${escaped(description)}</Description>
<Tags>${keywords.join(",")}</Tags>
<Categories>${categories.join(",")}</Categories>
<Properties>${Object.entries(properties).map(([id, value]) => `<Property Id="${id}" Value="${escaped(value)}"/>`).join("")}</Properties>
<License>extension/LICENSE</License>
<Icon>extension/${about.icon}</Icon>
</Metadata>
<Installation><InstallationTarget Id="Microsoft.VisualStudio.Code"/></Installation>
<Dependencies/>
<Assets>
<Asset Type="Microsoft.VisualStudio.Code.Manifest" Path="extension/package.json" Addressable="true"/>
<Asset Type="Microsoft.VisualStudio.Services.Content.Details" Path="extension/README.md" Addressable="true"/>
<Asset Type="Microsoft.VisualStudio.Services.Content.License" Path="extension/LICENSE" Addressable="true"/>
<Asset Type="Microsoft.VisualStudio.Services.Icons.Default" Path="extension/${about.icon}" Addressable="true"/>
</Assets>
</PackageManifest>
`;
}

function contentTypes(names) {
  const endings = [...new Set(names.map((name) => path.extname(name)).filter(Boolean))].sort();
  const kinds = endings.map((each) => `<Default Extension="${each.slice(1)}" ContentType="application/octet-stream"/>`).join("");
  return `<?xml version="1.0" encoding="utf-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">${kinds}</Types>
`;
}

/** The licences of all that is bundled. */
function licences({ metafile }) {
  const packages = new Set(Object.keys(metafile.inputs).map((each) => /^(.*node_modules\/(?:@[^/]+\/)?[^/]+)\//.exec(each)?.[1]).filter(Boolean));
  const texts = [...packages].sort().map((folder) => {
    const { name, version } = JSON.parse(fs.readFileSync(path.join(here, folder, "package.json"), "utf8"));
    const file = fs.readdirSync(path.join(here, folder)).find((each) => /^licen[cs]e(\.|$)/i.test(each));
    if (!file) throw new Error(`${name} has no licence`);
    return `## ${name} ${version}\n\n${fs.readFileSync(path.join(here, folder, file), "utf8").trim()}\n`;
  });
  return `# What is bundled, and its licences\n\n${texts.join("\n")}`;
}

const bundled = await esbuild.build({
  entryPoints: [path.join(here, "src", "extension.ts")], bundle: true, outfile: path.join(here, "dist", "extension.js"),
  platform: "node", format: "cjs", target: "node20", external: ["vscode"], minify: true, legalComments: "none", write: false, metafile: true,
  absWorkingDir: here,
});
const { devDependencies, scripts, private: _, ...shipped } = about;
const files = {
  "extension/package.json": strToU8(`${JSON.stringify(shipped, null, 1)}\n`),
  "extension/dist/extension.js": bundled.outputFiles[0].contents,
  "extension/THIRD-PARTY.md": strToU8(licences(bundled)),
};
for (const name of OURS.flatMap((each) => filesOf(here, each))) files[`extension/${name}`] = fs.readFileSync(path.join(here, name));
for (const name of SERVERS.flatMap((each) => filesOf(root, each))) files[`extension/server/${name}`] = fs.readFileSync(path.join(root, name));
files["extension.vsixmanifest"] = strToU8(manifest());
files["[Content_Types].xml"] = strToU8(contentTypes(Object.keys(files)));

const ordered = Object.fromEntries(Object.keys(files).sort().map((name) => [name, files[name]]));
const out = path.join(here, `${about.name}-${about.version}.vsix`);
fs.writeFileSync(out, zipSync(ordered, { level: 9, mtime: WHEN, os: 3, attrs: (0o100644 << 16) >>> 0 }));
console.log(path.relative(process.cwd(), out));
