// What the sheet shows of one target frame of one candidate, and how it is brought to the screen.
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import type { RepairedFrame } from '../../repair/repair.js'

/** What the sheet shows of one target frame of one candidate: linear light over the region's window. */
export interface RowPictures extends RepairedFrame {
  /** of a borrow: what the target is multiplied by, linear factors */
  readonly ratio?: Frame
}

/** A target frame as it was shot, and what of it is to be replaced. */
export type SeenTarget = Pick<RowPictures, 'rect' | 'target' | 'mask'>

/** A donor moved onto the target. */
export type DonorPicture = Pick<RowPictures, 'rect' | 'donor'>

/** 8-bit display samples of a linear-light picture, same layout: how all pictures of one sheet are shown. @param workspace in which it may lie */
export type Show = (picture: Frame, workspace?: Workspace) => Uint8Array
