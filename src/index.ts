// The library's public face: the same job without the command line.
export type { Look } from './colour/look/look.js'
export { readLook } from './colour/look/read-look.js'
export { type Viewed, type ViewingTransform, viewingOf } from './colour/viewing.js'
export { OffcutError } from './errors.js'
export { openPlate, type Plate, readRect } from './footage/plate.js'
export type { OnProgress, Progress } from './progress.js'
export type { Frame } from './raster/frame.js'
export type { Rect } from './raster/rect.js'
export { type FootageOptions, withFootage } from './repair/footage.js'
export { type Patch, patchSchema } from './repair/hand-over/patch.js'
export { HidePass, repairFrame } from './repair/hide/hide-pass.js'
export { type WriteLightingOptions, writeLighting } from './repair/lighting/write.js'
export { nudged } from './repair/nudge.js'
export {
  openRepair,
  pick,
  type RepairedFrame,
  type RepairJob,
  type RepairOptions,
  repairOf,
} from './repair/repair.js'
export { type WriteOptions, writeCandidate } from './repair/write.js'
export { type BorrowOptions, borrow, type FindBorrowOptions, findBorrow } from './search/borrow/borrow.js'
export { progressOf, resultOf, type SearchEvent, type SearchOptions } from './search/events.js'
export { type FindOptions, findDonors, type HideOptions, hide } from './search/hide/find.js'
export { searchAgain } from './search/hide/search-again.js'
export { LIMITS } from './search/measures.js'
export { type Candidate, type FrameMatch, type Result, resultSchema } from './search/result.js'
export { readResult, type StoredResult } from './search/result-file.js'
export { type Survey, surveyPlate } from './search/survey.js'
export { writeResultFile } from './search/write-result.js'
export { writeCsv } from './sheet/data/csv.js'
export { type Decision, type Decisions, decisionsSchema, parseDecisions } from './sheet/data/decisions.js'
export { readDecisions } from './sheet/data/decisions-file.js'
export { type PictureSource, picturesOf } from './sheet/data/pictures.js'
export type { DonorPicture, RowPictures } from './sheet/data/seen.js'
export { type PatchFolderOptions, writePatchFolder } from './sheet/patch-folder.js'
export { type DrawOptions, writeResultFolder, writeResultSheet } from './sheet/result-folder.js'
export { type SheetOptions, writeSheet } from './sheet/sheet.js'
export { openShot, type Shot, type ShotRequest } from './shot/open-shot.js'
