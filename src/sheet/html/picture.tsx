// One preview, with the mask's outline where wanted.
import type { Rect } from '../../raster/rect.js'

/** Smaller pictures than this are always enlarged, and then pixels stay pixels. */
const SMALL = 220

export function Picture({
  uri,
  rect,
  alt,
  outline,
}: {
  uri: string
  rect: Rect
  alt: string
  outline?: string
}) {
  return (
    <svg
      class={Math.max(rect.w, rect.h) < SMALL ? 'picture picture-small' : 'picture'}
      viewBox={`0 0 ${rect.w} ${rect.h}`}
      preserveAspectRatio="xMinYMid"
      role="img"
      aria-label={alt}
    >
      <image href={uri} width={rect.w} height={rect.h} />
      {outline ? <path class="outline-under" d={outline} /> : null}
      {outline ? <path class="outline" d={outline} /> : null}
    </svg>
  )
}
