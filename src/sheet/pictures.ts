// Where the sheet gets its pictures from: the repair of one frame of one candidate.
import type { RepairedFrame } from '../repair/repair.js'
import type { Candidate, FrameMatch } from '../search/result.js'

/** What the sheet shows of one target frame of one candidate: linear light over the region's window. */
export type RowPictures = RepairedFrame

/** Asked once per frame shown, several at a time. */
export type PictureSource = (candidate: Candidate, frame: FrameMatch) => Promise<RowPictures>
