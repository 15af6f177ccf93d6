// The sheet of a search: sheet.html and sheet.png.
import { mkdir } from 'node:fs/promises'
import { join } from 'node:path'
import type { OnProgress } from '../progress.js'
import type { Result } from '../search/result.js'
import { pageAssets } from './assets.js'
import { contactSheet } from './contact.js'
import { greyUri, webpUri } from './encode.js'
import { gather, type Row } from './gather.js'
import { documentText } from './html/document.js'
import type { ShownRow } from './html/shown.js'
import type { Limits } from './measures.js'
import type { PictureSource } from './pictures.js'
import { writeWhole } from './whole.js'

export interface SheetOptions {
  /** where each number holds up and where it fails; drawn, not judged: the verdicts are the result's own */
  readonly limits: Limits
  readonly overwrite?: boolean
  readonly onProgress?: OnProgress
}

/**
 * Writes `sheet.html` and `sheet.png` of a result into a folder, which is made where there is none.
 *
 * @param pictures asked once per candidate and frame shown
 * @throws OffcutError `FILE_EXISTS`, `WRITE_FAILED`, and whatever `pictures` throws
 */
export async function writeSheet(
  folder: string,
  result: Result,
  pictures: PictureSource,
  { limits, overwrite = false, onProgress }: SheetOptions,
): Promise<void> {
  const { script, style } = await pageAssets()
  const gathered = await gather(result, pictures, { onProgress })
  const png = await contactSheet(result, gathered, limits)
  const rows: ShownRow[] = []
  for (const row of gathered.rows) rows.push(await encodeRow(row))
  const html = documentText({
    result,
    limits,
    rows,
    exposureStops: gathered.exposureStops,
    matrix: await matrixUri(result),
    script,
    style,
  })
  await mkdir(folder, { recursive: true })
  await writeWhole(join(folder, 'sheet.png'), png, { overwrite })
  await writeWhole(join(folder, 'sheet.html'), html, { overwrite })
}

async function encodeRow(row: Row): Promise<ShownRow> {
  const { candidate, rank, shown, rect, outline } = row
  const [target, donor, repaired, difference] = await Promise.all(
    [row.target, row.donor, row.repaired, row.difference].map((samples) => webpUri(samples, rect)),
  )
  return { candidate, rank, shown, rect, outline, target, donor, repaired, difference }
}

/** Quality 0 to 100 as grey; cells that can't be compared are black, which no quality is. */
async function matrixUri({ matrix }: Result): Promise<string | null> {
  if (!matrix || matrix.donors.length === 0 || matrix.targets.length === 0) return null
  const w = matrix.donors.length
  const cells = Uint8Array.from(matrix.quality.flat(), (q) => (q === null ? 0 : 24 + Math.round(2.2 * q)))
  return greyUri(cells, { w, h: matrix.targets.length })
}
