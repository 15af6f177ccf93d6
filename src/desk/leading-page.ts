// A page on disk that leads a browser to the desk at once. A program's arguments can be read by everybody on the machine, so what
// opens a browser is handed this file, which only its owner can read, and never the address with its secret.
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { html } from 'hono/html'

/** Long enough for a browser that has to start first. */
const LIFETIME_MS = 60_000

export interface LeadingPage {
  readonly path: string
  /** Its folder goes with it; by itself that happens after a minute. */
  remove(): Promise<void>
}

/** @throws the system's error where no file can be made among the temporary ones; nothing of it is left then */
export async function makeLeadingPage(address: string): Promise<LeadingPage> {
  // Node makes it 0700.
  const folder = await mkdtemp(join(tmpdir(), 'offcut-open-'))
  const path = join(folder, 'desk.html')
  // What can't be removed is still its owner's alone.
  const discard = () => rm(folder, { recursive: true, force: true }).catch(() => {})
  try {
    await writeFile(path, String(await pageTo(address)), { mode: 0o600, flag: 'wx' })
  } catch (cause) {
    await discard()
    throw cause
  }
  const timer = setTimeout(discard, LIFETIME_MS)
  timer.unref()
  return {
    path,
    remove: () => {
      clearTimeout(timer)
      return discard()
    },
  }
}

/** By HTML's own refresh, without a script; the link is for browsers that were told not to follow one. */
function pageTo(address: string) {
  return html`<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'">
<meta name="referrer" content="no-referrer">
<meta name="color-scheme" content="light dark">
<meta http-equiv="refresh" content="0; url=${address}">
<title>Offcut desk</title>
<p><a href="${address}">Open the desk</a></p>
</html>
`
}
