// patch.csv: patch.json for a spreadsheet, one row per frame and what lends to it. RFC 4180.
import { csvOf } from '../../csv.js'
import type { Patch, PatchFrame, PatchShare } from './patch.js'

type Cell = string | number | null
type Column = readonly [
  name: string,
  cell: (frame: PatchFrame, share: PatchShare | undefined, patch: Patch) => Cell,
]

const MATRIX = ['xx', 'xy', 'x', 'yx', 'yy', 'y', 'wx', 'wy', 'w'] as const

const COLUMNS: readonly Column[] = [
  ['target_frame', (f) => f.target],
  ['file', (f) => f.file],
  ['candidate', (_, __, p) => p.candidate.id],
  ['donor_plate', (_, s, p) => (s === undefined ? null : p.donors[s.plate].plate)],
  ['donor_frame', (_, s) => s?.frame ?? null],
  ['time_offset', (_, s) => s?.timeOffset ?? null],
  ['share', (_, s) => s?.share ?? null],
  ['dx_px', (_, s) => s?.dx ?? null],
  ['dy_px', (_, s) => s?.dy ?? null],
  ...MATRIX.map((name, i): Column => [`transform_${name}`, (_, s) => s?.transform[i] ?? null]),
  ...(['r', 'g', 'b'] as const).map((name, c): Column => [`gain_${name}`, (_, s) => s?.gain[c] ?? null]),
  ['strength', (f) => f.strength ?? null],
  ['grain_frame', (f, s) => f.grain?.frame ?? s?.finest?.frame ?? null],
  ...(['seam', 'detail', 'flicker'] as const).map((name): Column => [name, (f) => f.check?.[name] ?? null]),
  ...(['r', 'g', 'b'] as const).map(
    (name, c): Column => [`noise_${name}`, (f) => f.check?.noise?.[c] ?? null],
  ),
  ['feather_px', (_, __, p) => p.region.feather],
  ['feather_side', (_, __, p) => p.region.featherSide],
]

/** A head line, then a line per frame and share; one with empty cells for a frame whose mask is black. */
export function patchCsv(patch: Patch): string {
  const rows = patch.frames.flatMap((frame) => {
    const shares = frame.lent.length > 0 ? frame.lent : [undefined]
    return shares.map((share) => COLUMNS.map(([, cell]) => cell(frame, share, patch)))
  })
  return csvOf(
    COLUMNS.map(([name]) => name),
    rows,
  )
}
