// Bundles the scripts of the pages into the package: one file a page needs, nothing fetched from elsewhere.
import { build } from "esbuild";

await build({
  // The editor draws in three dimensions and weighs ten times the rest: only its own page loads it.
  entryPoints: [{ in: "src/app.ts", out: "app" }, { in: "src/layout/main.ts", out: "layout" }],
  bundle: true,
  minify: true,
  target: ["es2022"],
  outdir: "../src/slackwater/web/static/dist",
  logLevel: "warning",
});
