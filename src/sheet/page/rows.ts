// Sorting and filtering the candidates: the rows and the table of numbers move together.
import type { MeasureKey } from '../../search/measures.js'
import { bestFirst, distanceFromBest } from '../data/measures.js'
import type { PageData, PageWay } from '../data/page-data.js'

export type SortKey = 'rank' | MeasureKey

/** Indices of the candidates, the best first or last; equals stay in the order of their rank, absent numbers come last. */
export function sorted(ways: readonly PageWay[], key: SortKey, backwards = false): number[] {
  const order = ways.map((way, i) => {
    return { i, distance: key === 'rank' ? i : distanceFromBest(key, way.measures[key]) }
  })
  order.sort((a, b) => {
    if (a.distance === b.distance) return a.i - b.i
    if (a.distance === Infinity || b.distance === Infinity) return a.distance === Infinity ? 1 : -1
    return backwards ? b.distance - a.distance : a.distance - b.distance
  })
  return order.map(({ i }) => i)
}

/** Which way the numbers of the sorted column go (WAI-ARIA 1.2, aria-sort). */
function way(key: SortKey, backwards: boolean): string {
  const forwards = key === 'rank' ? 'ascending' : bestFirst(key)
  if (!backwards || forwards === 'other') return forwards
  return forwards === 'ascending' ? 'descending' : 'ascending'
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
  const said = document.getElementById('order')
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
    const key = sort.value as SortKey
    const first = backwards ? 'worst' : 'best'
    if (said) said.textContent = key === 'rank' ? `${first} first` : `by ${key}, ${first} first`
    if (count) {
      const by = key === 'rank' && !backwards ? '' : `, ${said?.textContent}`
      count.textContent = `${visible.length} of ${rows.length} shown${by}`
    }
    for (const head of heads) {
      const here = head.dataset.sort === key
      if (here) head.setAttribute('aria-sort', way(key, backwards))
      else head.removeAttribute('aria-sort')
      if (here) head.dataset.first = first
      else delete head.dataset.first
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
