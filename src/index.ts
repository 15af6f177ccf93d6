// The library's public face: the same job without the command line.
export { OffcutError } from './errors.js'
export { openPlate, type Plate, readRect } from './footage/plate.js'
export type { OnProgress, Progress } from './progress.js'
export type { Frame } from './raster/frame.js'
export type { Rect } from './raster/rect.js'
export {
  openRepair,
  type RepairedFrame,
  type RepairJob,
  type RepairOptions,
  repairFrame,
} from './repair/repair.js'
export { writeCandidate } from './repair/write.js'
export { type FindOptions, findDonors } from './search/hide/find.js'
export { LIMITS } from './search/measures.js'
export { type Candidate, type FrameMatch, type Result, resultSchema } from './search/result.js'
export { type Survey, surveyPlate } from './search/survey.js'
