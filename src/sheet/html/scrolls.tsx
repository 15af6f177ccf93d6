// Room for a table that may be wider than the window: it scrolls by itself, by keyboard too.
import type { ComponentChildren } from 'preact'

export function Scrolls({ name, children }: { name: string; children: ComponentChildren }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what is scrolled by keyboard has to take the focus
    <section class="scrolls" aria-label={name} tabIndex={0}>
      {children}
    </section>
  )
}
