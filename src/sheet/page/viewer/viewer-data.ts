// What the viewer is given: candidates in words, which frames of them there are, and where their pictures come from.
import type { PageData, PageTarget, PageWay } from '../../data/page-data.js'

/** A candidate as the viewer names it and plays it. */
type ViewerWay = Pick<PageWay, 'id' | 'kind' | 'words' | 'verdict' | 'score' | 'frames' | 'start' | 'fewer'>

export interface ViewerData extends Pick<PageData, 'count' | 'targets' | 'whole' | 'pixelAspect'> {
  readonly masks: readonly { readonly outline: string }[]
  /** best first: the place in the list is the candidate's rank, less 1 */
  readonly ways: readonly ViewerWay[]
}

/** Picture files, any format that the browser decodes. Asked once per picture as long as that is remembered. */
export interface ViewerFiles {
  /** A target frame over its `rect`. @param at index into `targets` */
  target(at: number): Blob | Promise<Blob>
  /** What a candidate lends to a frame, over the target's `box`. @param frame index among those that it has */
  lent(way: number, frame: number): Blob | Promise<Blob>
  /** Grey, over a target's `box`: above 0 where the repaired picture may differ from the target. @param mask index into `masks` */
  support(mask: number): Blob | Promise<Blob>
  /** The whole frame round a target, at any size. @param index into `whole.targets` */
  whole(index: number): Blob | Promise<Blob>
}

/** The target frame of one of a candidate's frames. */
export function targetOf(data: ViewerData, way: number, frame: number): PageTarget {
  return data.targets[data.ways[way].frames[frame][0]]
}

/** The whole picture that goes with a target: its own, else that of the frame nearest to it; null where there is none. */
export function wholeFor(
  { whole, targets }: ViewerData,
  at: number,
): { readonly index: number; readonly frame: number } | null {
  if (!whole || whole.targets.length === 0) return null
  const away = (index: number) => Math.abs(targets[whole.targets[index]].frame - targets[at].frame)
  let nearest = 0
  for (let i = 1; i < whole.targets.length; i++) if (away(i) < away(nearest)) nearest = i
  return { index: nearest, frame: targets[whole.targets[nearest]].frame }
}
