// The notes as they stand in the rows' fields, decided or not.
import type { PageData } from '../data/page-data.js'

export class RowNotes {
  private readonly fields: ReadonlyMap<string, HTMLInputElement>

  constructor(data: PageData) {
    this.fields = new Map(
      data.ways.map((way) => [way.id, document.querySelector<HTMLInputElement>(`[id="${way.row}-note"]`)!]),
    )
  }

  get(candidate: string): string {
    return this.fields.get(candidate)?.value.trim() ?? ''
  }

  set(candidate: string, note: string): void {
    const field = this.fields.get(candidate)
    if (field) field.value = note
  }
}
