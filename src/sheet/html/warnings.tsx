// What is to be read before anything else on a page.
import { count } from '../data/words.js'

export function Warnings({ warnings }: { warnings: readonly string[] }) {
  if (warnings.length === 0) return null
  return (
    <section class="warnings" aria-labelledby="warnings">
      <h2 id="warnings">{count(warnings.length, 'warning')}</h2>
      <ul>
        {warnings.map((warning) => (
          <li>{warning}</li>
        ))}
      </ul>
    </section>
  )
}
