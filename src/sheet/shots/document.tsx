// The page over several shots as text: a card for each, which leads to its sheet. It has no script.
import { renderToString } from 'preact-render-to-string'
import type { Candidate, Result } from '../../search/result.js'
import { decidedText } from '../data/decided-text.js'
import type { Choice } from '../data/decisions.js'
import { scoreFigures } from '../data/measures.js'
import { withMinus } from '../data/minus.js'
import { capital, count, frameSpan, inWords, outcome, VERDICT_MARK } from '../data/words.js'
import { policy } from '../html/policy.js'
import type { Shot } from './shot.js'

/** By which an index is told from somebody else's page of that name. */
export const INDEX_MARK = 'offcut sheet --index'

export function shotsText(shots: readonly Shot[], style: string): string {
  const page = (
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <meta http-equiv="Content-Security-Policy" content={policy(null, style)} />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <meta name="color-scheme" content="dark" />
        <meta name="generator" content={INDEX_MARK} />
        <title>{`${count(shots.length, 'shot')}: ${overall(shots)}`}</title>
        <style dangerouslySetInnerHTML={{ __html: style }} />
      </head>
      <body class="shots-page">
        <header class="shots-head">
          <h1>{count(shots.length, 'shot')}</h1>
          <p>
            {overall(shots)}; {decidedOverall(shots)}
          </p>
        </header>
        <main class="shots">
          {shots.map((shot, i) => (
            <Card shot={shot} id={`shot-${i + 1}`} />
          ))}
        </main>
      </body>
    </html>
  )
  return `<!doctype html>\n${renderToString(page)}\n`
}

function Card({ shot, id }: { shot: Shot; id: string }) {
  const { name, result, sheet, picture } = shot
  const { target, region } = result
  const [x, y, w, h] = region.box
  const first = result.candidates[0] as Candidate | undefined
  return (
    <article class="shot" aria-labelledby={id}>
      {picture && first ? (
        <a class="shot-picture" href={sheet}>
          <svg
            viewBox={`0 0 ${picture.w} ${picture.h}`}
            preserveAspectRatio="xMidYMin"
            role="img"
            aria-label={`${name}: repaired by ${inWords(first)}, ${first.verdict}`}
          >
            <image href={picture.uri} width={picture.w} height={picture.h} preserveAspectRatio="none" />
          </svg>
        </a>
      ) : null}
      <div>
        <h2 id={id}>
          <a href={sheet}>{name}</a>
        </h2>
        {first ? (
          <>
            <p class="shot-first">
              <span aria-hidden="true">{VERDICT_MARK[first.verdict]}</span> {first.verdict}, score{' '}
              {scoreFigures(first.score)}: {capital(inWords(first))}
            </p>
            <p class="why">{withMinus(first.why)}</p>
          </>
        ) : null}
        <p>{outcome(result)}.</p>
        <Decided shot={shot} />
        <p class="plate">{target.plate}</p>
        <p>
          {capital(result.aim)}, {frameSpan(target.first, target.last)}; {w} × {h} px at {x}, {y}
        </p>
        {result.warnings.length > 0 ? (
          <details>
            <summary>{count(result.warnings.length, 'warning')}</summary>
            <ul>
              {result.warnings.map((warning) => (
                <li>{withMinus(warning)}</li>
              ))}
            </ul>
          </details>
        ) : null}
      </div>
    </article>
  )
}

const PAST: Readonly<Record<Choice, string>> = {
  accept: 'accepted',
  later: 'kept for later',
  reject: 'rejected',
}

/** How many are decided, and what was accepted by whom. */
function Decided({ shot: { result, decisions, remark } }: { shot: Shot }) {
  const accepted = decisions.flatMap((decision) => {
    const candidate = result.candidates.find((each) => each.id === decision.candidate)
    return candidate && decision.decision === 'accept' ? [{ candidate, decision }] : []
  })
  return (
    <>
      <p class="shot-decided">
        {result.candidates.length === 0 ? '' : capital(decidedWords(result, decisions))}
      </p>
      {accepted.map(({ candidate, decision }) => (
        <p>
          {capital(inWords(candidate))}: {decidedText(decision)} <code>--pick {candidate.id}</code>
        </p>
      ))}
      {remark === null ? null : <p>Not counted: {remark}</p>}
    </>
  )
}

/** "1 accepted, 2 kept for later, 5 open". */
export function decidedWords(
  { candidates }: Pick<Result, 'candidates'>,
  decisions: Shot['decisions'],
): string {
  const ids = new Set(candidates.map(({ id }) => id))
  const here = decisions.filter(({ candidate }) => ids.has(candidate))
  const parts = (Object.keys(PAST) as Choice[]).flatMap((choice) => {
    const n = here.filter(({ decision }) => decision === choice).length
    return n === 0 ? [] : [`${n} ${PAST[choice]}`]
  })
  const open = candidates.length - here.length
  return [...parts, ...(open === 0 ? [] : [`${open} open`])].join(', ')
}

/** What their first candidates are worth: "2 hold up, 1 needs work". */
export function overall(shots: readonly Shot[]): string {
  const firsts = shots.map(({ result }) => result.candidates[0]?.verdict)
  const number = (verdict: Candidate['verdict'] | undefined) => firsts.filter((v) => v === verdict).length
  const said: [n: number, one: string, many: string][] = [
    [number('holds up'), 'holds up', 'hold up'],
    [number('needs work'), 'needs work', 'need work'],
    [number('will not hold'), 'will not hold', 'will not hold'],
    [number(undefined), 'has no candidate', 'have no candidate'],
  ]
  return said.flatMap(([n, one, many]) => (n === 0 ? [] : [`${n} ${n === 1 ? one : many}`])).join(', ')
}

function decidedOverall(shots: readonly Shot[]): string {
  const done = shots.filter(({ decisions }) => decisions.some(({ decision }) => decision === 'accept')).length
  return `${done} of ${shots.length} with an accepted candidate`
}
