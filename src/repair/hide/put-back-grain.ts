// The plate's grain, put back into what is lent, on the rows on which that is laid: of a mosaic each piece by itself.
import { greenMean } from '../../kernels/patch.js'
import type { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import { detailSpectrum, roomFor, wholeTiles } from '../grain/detail-spectrum.js'
import { fitGrain, keepDetail } from '../grain/fit.js'
import type { Lacking } from '../grain/lacking.js'
import type { GrainModel } from '../grain/model.js'
import { addGrain, type WhiteFields } from '../grain/synthesise.js'
import type { Blended } from './blend.js'
import { rowsOfPiece } from './piece-rows.js'

/** Where a patch covers its frame. */
interface Covered {
  readonly alpha: Readonly<Float32Array>
  /** The same in the workspace. */
  readonly laid: Readonly<Float32Array>
  /** Corners of tiles over the mask. */
  readonly tiles: Readonly<Int32Array>
}

/** What is lent where its detail is known. */
type Regrained = Pick<Blended, 'pieces' | 'there'> & { readonly detail: NonNullable<Blended['detail']> }

/**
 * Where a patch is laid.
 *
 * @param patch    what is lent, in the workspace as the energy of its donors' detail and alpha are; changed
 * @param lacking  of all of it, or of each piece
 * @param noiseFor white noise of the frame, from which that is made
 */
export function putBackGrain(
  workspace: Workspace,
  patch: Frame,
  { pieces, detail, there }: Regrained,
  model: GrainModel,
  lacking: readonly Lacking[],
  noiseFor: (lacking: Lacking) => WhiteFields,
  { alpha, laid, tiles }: Covered,
): void {
  const [, width] = patch.shape
  workspace.within((scratch) => {
    const { energy } = detail
    const placed = { ...model, where: model.where && scratch.laid(model.where) }
    // The edge of a hole is no detail.
    const shown = detailSpectrum(workspace, patch, wholeTiles(tiles, there, width))
    const light = greenMean(workspace, patch.data, laid)
    for (const [k, of] of lacking.entries())
      workspace.within((inner) => {
        const piece = pieces?.[k] ?? null
        const white = noiseFor(of)
        const rows = rowsOfPiece(piece, alpha, width)
        if (rows.to === rows.from) return
        const from = rows.from * width
        const to = rows.to * width
        const part = frame(rows.to - rows.from, width, 3, patch.data.subarray(3 * from, 3 * to))
        const own = { ...placed, where: placed.where?.subarray(from, to) ?? null }
        const where = { alpha: laid.subarray(from, to), piece: piece?.subarray(from, to) ?? null }
        const roomed = roomFor(of, model, detail.spectrum, shown, light)
        const fit = fitGrain(workspace, inner, part, energy.subarray(from, to), own, roomed, where)
        keepDetail(workspace, part, fit.stays)
        const whiteHere: WhiteFields = {
          fresh: (c) => white.fresh(c).subarray(from, to),
          lasting: (c) => white.lasting(c).subarray(from, to),
        }
        addGrain(workspace, part, own, roomed, whiteHere, fit)
      })
  })
}
