// api.json -> src/api/types.ts. `--check` fails when the file is not what the description says.
import { readFileSync, writeFileSync } from "node:fs";

const here = new URL("..", import.meta.url);
const description = JSON.parse(readFileSync(new URL("api.json", here), "utf8"));
const target = new URL("src/api/types.ts", here);

function typeOf(word) {
  const optional = word.endsWith("?");
  const bare = optional ? word.slice(0, -1) : word;
  const text = bare.replace(/(\w+)\{\}/g, "Record<string, $1>").replace(/\binterval\b/g, "Interval").replace(/\bjson\b/g, "unknown");
  return { optional, text };
}

function interfaceOf([name, fields]) {
  const lines = Object.entries(fields).map(([key, word]) => {
    const { optional, text } = typeOf(word);
    return `  ${key}${optional ? "?" : ""}: ${text};`;
  });
  return `export interface ${name} {\n${lines.join("\n")}\n}`;
}

const ABOUT = { Vertex: "A path's vertex: easting, northing, level, and the bulge of the way on.", Flat: "Numbers one after the other: the places of a ring or a way, or the corners of a triangle." };
const operations = Object.entries(description.operations).map(([name, type]) => `  "${name}": ${typeOf(type).text};`);
const argumentNames = Object.entries(description.operations).map(([name]) => {
  const keys = description.arguments[name]?.map((key) => `"${key}"`).join(" | ");
  return `  "${name}": ${keys ? `Partial<Record<${keys}, unknown>>` : "{ readonly none?: never }"};`;
});
const text = [
  "// Made from api.json by scripts/types.mjs; do not edit.",
  "/** Low and high at 95 %. */\nexport type Interval = [number, number];",
  ...Object.entries(description.aliases).map(([name, words]) => `/** ${ABOUT[name]} */\nexport type ${name} = ${words};`),
  ...Object.entries(description.types).map(interfaceOf),
  `/** What each operation gives. */\nexport interface Operations {\n${operations.join("\n")}\n}`,
  `/** What each operation may be asked with. */\nexport interface Arguments {\n${argumentNames.join("\n")}\n}`,
].join("\n\n") + "\n";

if (!process.argv.includes("--check")) writeFileSync(target, text);
else if (readFileSync(target, "utf8") !== text) {
  console.error("src/api/types.ts is not what api.json says; run npm run types.");
  process.exit(1);
}
