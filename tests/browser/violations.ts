// What axe-core has against a page.
import { readFile } from 'node:fs/promises'
import { createRequire } from 'node:module'
import type { Page } from 'playwright-core'

const AXE = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

/** axe-core with all its rules: WCAG 2.2 A and AA, best practices, and the experimental ones. */
export async function violations(page: Page): Promise<string[]> {
  await page.evaluate(AXE)
  return page.evaluate(async () => {
    const { axe } = window as unknown as { axe: typeof import('axe-core') }
    const { violations } = await axe.run(document, {
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice', 'experimental'],
    })
    return violations.flatMap((v) =>
      v.nodes.map((node) => `${v.id}: ${node.html.slice(0, 160)} ${node.failureSummary ?? ''}`),
    )
  })
}
