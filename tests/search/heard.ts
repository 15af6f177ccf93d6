// The events of a search, all of them or those of one kind.
import type { SearchEvent } from '../../src/search/events.js'

export async function heard(events: AsyncIterable<SearchEvent>): Promise<SearchEvent[]> {
  const all: SearchEvent[] = []
  for await (const event of events) all.push(event)
  return all
}

export function of<K extends SearchEvent['kind']>(events: readonly SearchEvent[], kind: K) {
  return events.filter((e): e is Extract<SearchEvent, { kind: K }> => e.kind === kind)
}
