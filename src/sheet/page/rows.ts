// Sorting and filtering the candidates: the rows and the table of numbers move together.
import type { MeasureKey } from '../measures.js'
import type { PageData, PageWay } from '../page-data.js'

export type SortKey = 'rank' | MeasureKey

/** Measures whose best value is their least, is one, or is nought; of the others more is better. */
const LESS_IS_BETTER = new Set<SortKey>(['seam', 'steadiness', 'life'])
const ONE_IS_BEST = new Set<SortKey>(['grain', 'sharpness'])

/** How far a candidate is from the best there could be in this respect; absent numbers come last. */
function distance(way: PageWay, rank: number, key: SortKey): number {
  if (key === 'rank') return rank
  const value = way.measures[key]
  if (value === null) return Infinity
  if (key === 'stops') return Math.abs(value)
  if (ONE_IS_BEST.has(key)) return Math.abs(value - 1)
  return LESS_IS_BETTER.has(key) ? value : -value
}

/** Indices of the candidates in the order asked for; equals stay in the order of their rank. */
export function sorted(ways: readonly PageWay[], key: SortKey, backwards = false): number[] {
  const order = ways.map((way, i) => [distance(way, i, key), i] as const)
  const sign = backwards ? -1 : 1
  // Two absent numbers are equal: the difference of two infinities is none.
  order.sort(([a, i], [b, j]) => (a === b ? i - j : sign * (a < b ? -1 : 1)))
  return order.map(([, i]) => i)
}

export interface Filter {
  readonly kinds: ReadonlySet<string> | null
  readonly verdicts: ReadonlySet<string> | null
  readonly donor: number | null
}

/** null lets everything through. */
export function passes(way: PageWay, { kinds, verdicts, donor }: Filter): boolean {
  return (
    (kinds === null || kinds.has(way.kind)) &&
    (verdicts === null || verdicts.has(way.verdict)) &&
    (donor === null || way.donor === donor)
  )
}

/** Wires the tools over the rows. Returns the candidates shown, in their order. */
export function wireRows(data: PageData): { visible: () => number[] } {
  const rows = data.ways.map((way) => document.getElementById(way.row)!)
  const lines = data.ways.map(
    (way) => document.querySelector<HTMLElement>(`#overview [data-row="${way.row}"]`)!,
  )
  const list = document.getElementById('rows')!
  const body = document.querySelector('#overview tbody')
  const sort = document.getElementById('sort') as HTMLSelectElement | null
  const donor = document.getElementById('donor') as HTMLSelectElement | null
  const count = document.getElementById('shown-count')
  const none = document.getElementById('none-shown')!
  const heads = [...document.querySelectorAll<HTMLElement>('#overview [data-sort]')]
  let backwards = false
  let visible = data.ways.map((_, i) => i)
  if (!sort || !body) return { visible: () => visible }

  const ticked = (name: string): ReadonlySet<string> | null => {
    const boxes = [...document.querySelectorAll<HTMLInputElement>(`.ticks input[name="${name}"]`)]
    return boxes.length === 0 ? null : new Set(boxes.filter((box) => box.checked).map((box) => box.value))
  }

  const arrange = () => {
    const order = sorted(data.ways, sort.value as SortKey, backwards)
    const filter: Filter = {
      kinds: ticked('kind'),
      verdicts: ticked('verdict'),
      donor: donor?.value ? Number(donor.value) : null,
    }
    visible = order.filter((i) => passes(data.ways[i], filter))
    const shown = new Set(visible)
    for (const i of order) rows[i].hidden = lines[i].hidden = !shown.has(i)
    // Moving rows lays the whole page out again, which an order that is there already does not need.
    if (order.some((i, at) => list.children[at] !== rows[i])) {
      for (const i of order) {
        list.append(rows[i])
        body.append(lines[i])
      }
    }
    none.hidden = visible.length > 0
    if (count) count.textContent = `${visible.length} of ${rows.length} shown`
    for (const head of heads) {
      const here = head.dataset.sort === sort.value
      if (here) head.setAttribute('aria-sort', backwards ? 'descending' : 'ascending')
      else head.removeAttribute('aria-sort')
    }
  }

  sort.addEventListener('change', () => {
    backwards = false
    arrange()
  })
  donor?.addEventListener('change', arrange)
  for (const box of document.querySelectorAll('.ticks input')) box.addEventListener('change', arrange)
  for (const head of heads) {
    const text = head.querySelector('[data-part="head"]')!
    const button = document.createElement('button')
    button.type = 'button'
    button.textContent = text.textContent
    text.replaceWith(button)
    button.addEventListener('click', () => {
      backwards = sort.value === head.dataset.sort ? !backwards : false
      sort.value = head.dataset.sort!
      arrange()
    })
  }
  // A browser keeps ticks and choices over a reload; the rows follow them.
  arrange()
  return { visible: () => visible }
}
