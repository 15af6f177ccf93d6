// The sheet of a search: sheet.html and sheet.png.
import { join } from 'node:path'
import { type ViewingTransform, viewingOf } from '../colour/viewing.js'
import { refuseExisting, writeWhole } from '../footage/write/file.js'
import { makeFolder } from '../footage/write/make-folder.js'
import type { OnProgress } from '../progress.js'
import { MEASURE_KEYS, recordOf } from '../search/measures.js'
import type { Result } from '../search/result.js'
import { PAGE_BYTES, planFrames } from './data/budget.js'
import { type Carried, carryFrames } from './data/carry.js'
import { type CrossingPicture, drawCrossings } from './data/crossings.js'
import type { Decisions } from './data/decisions.js'
import type { DrawThreads } from './data/draw-threads.js'
import { searchFingerprint } from './data/fingerprint.js'
import type { Row, Still } from './data/gather.js'
import { shownFrame } from './data/measures.js'
import type { PageData } from './data/page-data.js'
import type { PictureSource } from './data/pictures.js'
import { playedFrames, playing, whyFewer } from './data/played.js'
import { drawRows } from './data/rows.js'
import { factorOf, shrunk } from './data/shrink.js'
import { drawWholes, NO_WHOLES, type ReadWhole, type Wholes } from './data/wholes.js'
import { compares, inWords } from './data/words.js'
import { pageAssets } from './html/assets.js'
import { documentPieces } from './html/document.js'
import { CODINGS, DIFFERENCE_CODING, greyUri, stillUri } from './html/encode.js'
import { rowId, type Shown, type ShownCrossing, type ShownRow } from './html/shown.js'
import { contactSheet } from './png/contact.js'

export interface SheetOptions {
  /** decisions that the page opens with and prints */
  readonly decisions?: Decisions
  /** said on the page before the search's own warnings: what has changed since */
  readonly remarks?: readonly string[]
  /** how the pictures are shown; default: as sRGB */
  readonly viewing?: ViewingTransform
  readonly overwrite?: boolean
  /** width of the plate's pixels over their height: pictures are shown as they are projected. Default: 1 */
  readonly pixelAspect?: number
  /** other threads that draw the same pictures; absent: all are drawn on this one */
  readonly threads?: Pick<DrawThreads, 'spread'> | null
  readonly onProgress?: OnProgress
  /** a target frame whole; absent: the page shows the region alone */
  readonly wholeFrame?: ReadWhole
}

/**
 * Writes `sheet.html` and `sheet.png` of a result into a folder, which is made where there is none.
 *
 * @param pictures asked once per candidate and frame shown, and once more for the frame that a row shows
 * @throws OffcutError `OUTPUT_EXISTS`, `OUTPUT_UNWRITABLE`, `DISK_FULL`, `SHEET_PAGE_MISSING`, and whatever `pictures` throws
 */
export async function writeSheet(
  folder: string,
  result: Result,
  pictures: PictureSource,
  {
    decisions,
    remarks = [],
    viewing = AS_SRGB,
    overwrite = false,
    pixelAspect = 1,
    threads,
    onProgress,
    wholeFrame,
  }: SheetOptions = {},
): Promise<void> {
  const names = { png: join(folder, 'sheet.png'), html: join(folder, 'sheet.html') }
  for (const path of Object.values(names)) await refuseExisting(path, overwrite)
  const { script, style } = await pageAssets()
  const factor = factorOf(result)
  const shown = shrunk(pictures, factor)
  const drawn = await drawRows(result, shown, factor, viewing, onProgress)
  const crossings = await drawCrossings(result, pictures, drawn.show)
  const look = viewing.look?.name ?? null
  // Coding pictures is other threads' work, beside which this one draws on.
  const contact = contactSheet(result, drawn.rows, { look, pixelAspect })
  contact.catch(() => {})
  const reading = wholeFrame ? drawWholes(result, wholeFrame, drawn.show, factor) : Promise.resolve(NO_WHOLES)
  reading.catch(() => {})
  const rows: ShownRow[] = []
  const files = new StillFiles()
  for (const row of drawn.rows) rows.push(await encodeRow(row, files))
  const common = {
    ...{ result, rows, script, style, decisions, remarks, pixelAspect },
    exposureStops: drawn.exposureStops,
    look,
    factor,
    crossings: await Promise.all(crossings.map(encodeCrossing)),
    matrix: await matrixUri(result),
  }
  const wholes = await reading
  // The page without its frames tells how much room they have.
  const bare = documentPieces({
    ...common,
    ...frameBlocks(result, NOTHING_CARRIED, wholes, { decisions, pixelAspect }),
    coding: CODINGS[0],
  })
  const { length: all } = result.candidates
  const played = [...playing(result.candidates).values()].map(({ length }) => length)
  const plan = await planFrames(
    { playing: played, alone: all - played.length, frames: result.target.frames.length },
    PAGE_BYTES - bare.reduce((sum, { length }) => sum + length, 0),
    drawn.weigh,
  )
  const spread = threads?.spread(plan, drawn.exposureStops)
  const carried = await carryFrames(
    result.candidates,
    shown,
    plan,
    drawn.show,
    onProgress,
    spread,
    drawn.kept,
  )
  const html = documentPieces({
    ...common,
    rows: rows.map((row, i) => ({ ...row, finish: carried.finish[i] ?? null })),
    ...frameBlocks(result, carried, wholes, { decisions, pixelAspect }),
    coding: plan.coding,
  })
  const png = await contact
  await makeFolder(folder)
  await writeWhole(names.png, png, { overwrite })
  await writeWhole(names.html, html, { overwrite })
}

const AS_SRGB = viewingOf({ encoding: 'linear' })

const NOTHING_CARRIED: Carried = { targets: [], masks: [], targetFiles: [], lent: [], finish: [] }

async function encodeCrossing({ picture, ...crossing }: CrossingPicture): Promise<ShownCrossing> {
  return { ...crossing, picture: await stillUri(picture) }
}

/** Stills that several rows show are encoded once. */
class StillFiles {
  readonly #known = new Map<Still, Promise<string>>()

  uriOf(still: Still): Promise<string> {
    const uri = this.#known.get(still) ?? stillUri(still)
    this.#known.set(still, uri)
    return uri
  }
}

async function encodeRow(row: Row, files: StillFiles): Promise<ShownRow> {
  const { candidate, rank, shown, rect, outline, pieces } = row
  const [target, donor, repaired, difference] = await Promise.all([
    files.uriOf(row.target),
    stillUri(row.donor),
    stillUri(row.repaired),
    stillUri(row.difference, DIFFERENCE_CODING),
  ])
  const ratio = row.ratio ? await stillUri(row.ratio) : null
  const strip = await Promise.all(
    row.strip.map(async ({ index, donor }) => ({ index, donor: await stillUri(donor) })),
  )
  const said = { candidate, rank, shown, rect, outline, pieces }
  return { ...said, target, donor, repaired, difference, ratio, strip, finish: null }
}

/** Quality 0 to 100 as grey from 24 to 244; cells that can't be compared are black, which no quality is. */
async function matrixUri(result: Result): Promise<string | null> {
  const { matrix } = result
  if (!matrix || !compares(result)) return null
  const w = matrix.donors.length
  const cells = Uint8Array.from(matrix.quality.flat(), (q) => (q === null ? 0 : 24 + Math.round(2.2 * q)))
  return greyUri(cells, { w, h: matrix.targets.length })
}

/** The result and its frames as the page's script reads them. */
function frameBlocks(
  result: Result,
  { targets, masks, targetFiles, lent }: Carried,
  wholes: Wholes,
  { decisions, pixelAspect }: Pick<Shown, 'decisions' | 'pixelAspect'>,
): Pick<Shown, 'data' | 'targetFiles' | 'lentFiles' | 'wholeFiles'> {
  const place = new Map(targets.map(({ frame }, i) => [frame, i]))
  const { target } = result
  const roundTargets = wholes.frames.map(({ frame }) => place.get(frame) ?? -1)
  const data: PageData = {
    search: searchFingerprint(result),
    plate: target.plate,
    first: target.first,
    last: target.last,
    count: target.frames.length,
    ...(pixelAspect === 1 ? {} : { pixelAspect }),
    targets,
    masks,
    ...(wholes.frames.length > 0 ? { whole: { size: wholes.size, targets: roundTargets } } : {}),
    decisions: decisions?.decisions ?? [],
    ways: result.candidates.map((candidate, i) => {
      const { id, kind, verdict, score, donor } = candidate
      const frames = lent[i] ?? []
      const first = shownFrame(candidate)
      return {
        ...{ id, kind, verdict, score, donor },
        row: rowId(candidate),
        words: inWords(candidate),
        fewer: frames.length < playedFrames(candidate, i).length ? null : whyFewer(candidate, i),
        measures: recordOf(MEASURE_KEYS, (key) => candidate[key]),
        start: Math.max(
          0,
          frames.findIndex(({ index }) => index === first),
        ),
        frames: frames.map(({ index }) => {
          const match = candidate.frames[index]
          return [place.get(match.target)!, match.donor, match.seam] as const
        }),
      }
    }),
  }
  const lentFiles = lent.map((frames) => frames.map(({ file }) => file))
  return { data, targetFiles, lentFiles, wholeFiles: wholes.frames.map(({ file }) => file) }
}
