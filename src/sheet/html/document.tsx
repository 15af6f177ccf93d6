// The whole page as text.
import { createHash } from 'node:crypto'
import { renderToString } from 'preact-render-to-string'
import { outcome } from '../words.js'
import { MatchMatrix } from './matrix.js'
import { Row } from './row.js'
import type { Shown } from './shown.js'
import { Top } from './top.js'

/** Nothing may be fetched, nothing may run but the page's own script, nothing may be sent. */
function policy(script: string, style: string): string {
  const hash = (text: string) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`
  return [
    "default-src 'none'",
    'img-src data: blob:',
    `style-src ${hash(style)}`,
    `script-src ${hash(script)}`,
    "base-uri 'none'",
    "form-action 'none'",
  ].join('; ')
}

export function documentText(shown: Shown): string {
  const { result, rows, script, style } = shown
  const page = (
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <meta http-equiv="Content-Security-Policy" content={policy(script, style)} />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <meta name="color-scheme" content="dark" />
        <title>{`${outcome(result)} – ${result.target.plate}`}</title>
        <style dangerouslySetInnerHTML={{ __html: style }} />
      </head>
      <body>
        <a class="skip" href="#candidates">
          To the candidates
        </a>
        <Top shown={shown} />
        <main>
          <MatchMatrix shown={shown} />
          <section id="candidates" aria-labelledby="candidates-name">
            <h2 id="candidates-name">Candidates, best first</h2>
            {rows.length === 0 ? <p>There is none.</p> : null}
            {rows.map((row) => (
              <Row key={row.candidate.id} row={row} shown={shown} />
            ))}
          </section>
        </main>
        <script dangerouslySetInnerHTML={{ __html: script }} />
      </body>
    </html>
  )
  return `<!doctype html>\n${renderToString(page)}\n`
}
