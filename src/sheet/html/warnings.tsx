// What is to be read before anything else on a page.
import { withMinus } from '../data/minus.js'
import { count } from '../data/words.js'

/** @param open so many stand there at once, the others are folded */
export function Warnings({ warnings, open = Infinity }: { warnings: readonly string[]; open?: number }) {
  if (warnings.length === 0) return null
  return (
    <section class="warnings" aria-labelledby="warnings">
      <h2 id="warnings">{count(warnings.length, 'warning')}</h2>
      <WarningList warnings={warnings} open={open} />
    </section>
  )
}

/** Without a heading. */
export function WarningList({ warnings, open }: { warnings: readonly string[]; open: number }) {
  // One more takes no more room than the line that would unfold it.
  const cut = warnings.length <= open + 1 ? warnings.length : open
  const [first, more] = [warnings.slice(0, cut), warnings.slice(cut)]
  return (
    <>
      <List warnings={first} />
      {more.length > 0 ? (
        <details>
          <summary>{more.length} more</summary>
          <List warnings={more} />
        </details>
      ) : null}
    </>
  )
}

function List({ warnings }: { warnings: readonly string[] }) {
  return (
    <ul>
      {warnings.map((warning) => (
        <li>{inOnePiece(warning)}</li>
      ))}
    </ul>
  )
}

/** An option is to be typed: no line ends between its hyphens and its name. */
function inOnePiece(warning: string) {
  return withMinus(warning)
    .split(/(--[a-z][a-z-]*)/)
    .map((part, i) => (i % 2 === 1 ? <span class="option">{part}</span> : part))
}
