// The whole page as bytes.
import { renderToString } from 'preact-render-to-string'
import { DATA_ID, framesId, TARGETS_ID, WHOLES_ID } from '../data/page-data.js'
import { nothing, outcome } from '../data/words.js'
import { Overview } from './overview.js'
import { policy } from './policy.js'
import { PixelAspect } from './projected.js'
import { Row } from './row.js'
import type { Shown } from './shown.js'
import { Tools } from './tools.js'
import { Top } from './top.js'

/** In a row, UTF-8. Most of it are files in base64, which one text with other letters beside them would take twice, and once more to write. */
export function documentPieces(shown: Shown): Uint8Array[] {
  const held: string[] = []
  const hold = (files: readonly string[]) => `${MARK}${held.push(files.join('\n')) - 1}${MARK}`
  const { result, rows, script, style } = shown
  const accepted = shown.decisions?.decisions.some((each) => each.decision === 'accept')
  const page = (
    <html lang="en" class={accepted ? 'some-accepted' : ''}>
      <head>
        <meta charset="utf-8" />
        <meta http-equiv="Content-Security-Policy" content={policy(script, style)} />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <meta name="color-scheme" content="dark" />
        <title>{`${outcome(result)} – ${result.target.plate}`}</title>
        <style dangerouslySetInnerHTML={{ __html: style }} />
      </head>
      <body class={rows.length > 0 ? 'has-rows' : ''}>
        <a class="skip" href="#candidates">
          To the candidates
        </a>
        <Top shown={shown} />
        <main>
          <section id="candidates" aria-labelledby="candidates-name">
            <h2 id="candidates-name">
              Candidates{rows.length > 1 ? ', ' : ''}
              {rows.length > 1 ? <span id="order">best first</span> : null}
            </h2>
            {rows.length === 0 ? <p>{nothing(result)}</p> : <Tools result={result} />}
            <div id="rows">
              {rows.map((row) => (
                <Row key={row.candidate.id} row={row} shown={shown} />
              ))}
            </div>
            <p id="none-shown" hidden>
              No candidate of these kinds and verdicts.
            </p>
          </section>
          <Overview shown={shown} />
        </main>
        <div id="closer" />
        <Block
          id={DATA_ID}
          type="application/json"
          text={JSON.stringify(shown.data).replaceAll('<', '\\u003c')}
        />
        <Block id={TARGETS_ID} type="text/plain" text={hold(shown.targetFiles)} />
        {shown.wholeFiles.length > 0 ? (
          <Block id={WHOLES_ID} type="text/plain" text={hold(shown.wholeFiles)} />
        ) : null}
        {shown.lentFiles.map((files, i) => (
          <Block id={framesId(i)} type="text/plain" text={hold(files)} />
        ))}
        <script dangerouslySetInnerHTML={{ __html: script }} />
      </body>
    </html>
  )
  const text = `<!doctype html>\n${renderToString(<PixelAspect.Provider value={shown.pixelAspect}>{page}</PixelAspect.Provider>)}\n`
  return text.split(MARK).map((piece, i) => Buffer.from(i % 2 === 0 ? piece : held[Number(piece)]))
}

/** Stands where a block of files comes: no text or data of a page has a "<" that is not escaped. */
const MARK = '<!--files-->'

/** Data that the browser does not run. The text holds no "<": base64, or JSON with it escaped. */
function Block({ id, type, text }: { id: string; type: string; text: string }) {
  return <script id={id} type={type} dangerouslySetInnerHTML={{ __html: text }} />
}
