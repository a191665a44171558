// A page of the server as a webview shows it: its own policy, which lets nothing be loaded, with our script let in besides.

export function webviewHtml(page: string, nonce: string, script: string, style: string, uri: string): string {
  const opened = page.indexOf('http-equiv="Content-Security-Policy"');
  const start = page.indexOf('content="', opened) + 'content="'.length;
  const end = page.indexOf('"', start);
  const close = page.lastIndexOf("</body>");
  if (opened < 0 || start > end || close < 0) throw new Error("a page without its policy is not shown");
  const inside = `<style nonce="${nonce}">${style}</style><script nonce="${nonce}" data-uri="${escaped(uri)}">${script}</script>`;
  return page.slice(0, start) + withNonce(page.slice(start, end), nonce) + page.slice(end, close) + inside + page.slice(close);
}

/** A policy with a script and a style of ours. What it does not name stays shut by its default-src. */
export function withNonce(policy: string, nonce: string): string {
  const directives = policy.split(";").map((each) => each.trim()).filter(Boolean);
  for (const name of ["script-src", "style-src"]) {
    const at = directives.findIndex((each) => each.startsWith(`${name} `));
    if (at < 0) directives.push(`${name} 'nonce-${nonce}'`);
    else directives[at] += ` 'nonce-${nonce}'`;
  }
  return directives.join("; ");
}

function escaped(text: string): string {
  return text.replace(/&/g, "&amp;").replace(/"/g, "&quot;").replace(/</g, "&lt;");
}
