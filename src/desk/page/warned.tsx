// What a search or a patch is to be warned of, in its own sentences.
import { count } from '../../sheet/data/words.js'
import { WarningList } from '../../sheet/html/warnings.js'

/** So many stand there at once: the panel is narrow. */
const OPEN = 2

export function Warned({ warnings }: { warnings: readonly string[] }) {
  if (warnings.length === 0) return null
  const title = count(warnings.length, 'warning')
  return (
    <section class="warned" aria-label={title}>
      <h3>{title}</h3>
      <WarningList warnings={warnings} open={OPEN} />
    </section>
  )
}
