// Under the picture: playing, the frame's number, zoom, brightness, what the picture shows.

import { plain } from '../../sheet/data/measures.js'
import { hand } from './areas.js'
import { Slider, Text } from './fields.js'
import { oneToOne } from './keys.js'
import { arrivals, type Display, display, donor, freeView, preview, show, view } from './looking.js'
import { patchAwaited, shownFrame } from './painting.js'
import { reached, togglePlaying, USUAL_RATE } from './playback.js'
import { Said } from './said.js'
import { askView, frame, goTo, plate, playing, state, stepFrames, strips } from './state.js'
import { nearestFrame } from './strip-scale.js'

export function Transport() {
  const about = plate.value!
  void arrivals.value
  const rate = about.framesPerSecond ?? USUAL_RATE
  const slow = reached.value !== null && reached.value < 0.9 * rate
  const late = shownFrame()
  return (
    <div class="transport">
      <div class="buttons">
        <button type="button" aria-label="Frame before" onClick={() => stepFrames(-1)}>
          ←
        </button>
        <button type="button" class="play" aria-pressed={playing.value} onClick={togglePlaying}>
          {playing.value ? 'Stop' : 'Play'}
        </button>
        <button type="button" aria-label="Next frame" onClick={() => stepFrames(1)}>
          →
        </button>
      </div>
      <Text
        label="Frame"
        numeric
        value={String(frame.value)}
        onCommit={(text) => {
          const number = Number(text)
          if (Number.isFinite(number)) goTo(nearestFrame(about.frames, number))
        }}
      />
      <p class="transport-said">
        {playing.value
          ? `${slow ? `${reached.value} of ${rate}` : rate} a second`
          : late !== null && late !== frame.value && display.value === 'shot'
            ? `${late} shown until ${frame.value} has come`
            : patchAwaited()
              ? 'as shot until the patch is made'
              : aboutFrame()}
      </p>
      <Shows />
      <div class="buttons zooms">
        <button
          type="button"
          aria-pressed={hand.value}
          onClick={() => {
            hand.value = !hand.value
          }}
        >
          Move
        </button>
        <button
          type="button"
          aria-pressed={freeView.value === null}
          onClick={() => {
            freeView.value = null
          }}
        >
          Fit
        </button>
        <button type="button" onClick={oneToOne}>
          1:1
        </button>
        <output aria-label="Zoom">{Math.round(100 * view.value.scale * devicePixelRatio)} %</output>
      </div>
    </div>
  )
}

/** What is to be said of the frame that is up. */
function aboutFrame(): string {
  const known = strips.value.get(0)?.get(frame.value)
  if (known?.message) return known.message
  return known?.repeats != null ? `repeats ${known.repeats}` : ''
}

const DISPLAYS: readonly (readonly [Display, string])[] = [
  ['shot', 'As shot'],
  ['donor', 'Donor'],
  ['patched', 'Patched'],
]

function Shows() {
  const there = (which: Display) =>
    which === 'shot' || (which === 'donor' ? donor.value !== null : preview.value !== null)
  if (!there('donor') && display.value === 'shot') return null
  return (
    <fieldset class="shows">
      <legend class="unseen">The picture shows</legend>
      <div class="buttons">
        {DISPLAYS.map(([which, name]) => (
          <button
            type="button"
            key={which}
            aria-pressed={display.value === which}
            disabled={!there(which)}
            onClick={() => show(which)}
          >
            {name}
          </button>
        ))}
      </div>
    </fieldset>
  )
}

export function Brightness() {
  const { exposureStops, gamma, look } = state.value!.view
  return (
    <div class="brightness">
      <Slider
        label="Exposure"
        value={exposureStops}
        shown={`${plain(exposureStops, 1, true)} stops`}
        {...{ min: -6, max: 6, step: 0.25 }}
        onInput={(stops) => askView({ exposureStops: stops })}
      />
      <Slider
        label="Gamma"
        value={gamma}
        shown={plain(gamma, 2)}
        {...{ min: 0.4, max: 2.6, step: 0.05 }}
        onInput={(value) => askView({ gamma: value })}
      />
      <Text
        label="Look"
        value={look ?? ''}
        placeholder="a .cube file"
        onCommit={(path) => askView({ look: path === '' ? null : path })}
      />
      <Said place="picture" />
    </div>
  )
}
