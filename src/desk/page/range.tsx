// Step 2, range: the frames that need repair; of a borrow also where its peak is wanted, and like what.
import { count } from '../../sheet/data/words.js'
import { Num, Text } from './fields.js'
import { LightCurve } from './light-curve.js'
import { Said } from './said.js'
import { ask, frame, goTo, state } from './state.js'
import { ends, fault, setEnd, targets } from './target-range.js'

export function Range() {
  const { asked } = state.value!
  const both = ends.value
  return (
    <>
      <p class="note">Drag along the strip’s upper edge, or go to a frame and set the end there.</p>
      <div class="buttons">
        <button type="button" onClick={() => setEnd('first')}>
          Begins at {frame.value} <kbd>[</kbd>
        </button>
        <button type="button" onClick={() => setEnd('last')}>
          Ends at {frame.value} <kbd>]</kbd>
        </button>
      </div>
      <Text
        label="Target frames"
        wide
        value={asked.frames}
        placeholder="1060-1069"
        onCommit={(frames) => ask({ frames }, null, 'range')}
      />
      <div role="alert">{fault.value ? <p class="trouble">{fault.value}</p> : null}</div>
      {both && !fault.value ? (
        <div class="line">
          <span>{count(targets.value.length, 'frame')}</span>
          <div class="buttons">
            <button type="button" onClick={() => goTo(both[0])}>
              Go to {both[0]}
            </button>
            <button type="button" onClick={() => goTo(both[1])}>
              Go to {both[1]}
            </button>
          </div>
        </div>
      ) : null}
      {asked.aim === 'borrow' ? <Moment /> : null}
      <Said place="range" />
    </>
  )
}

function Moment() {
  const { asked } = state.value!
  const change = (values: Parameters<typeof ask>[0]) => ask(values, null, 'range')
  return (
    <section aria-labelledby="moment-name" class="part">
      <h3 id="moment-name">What is borrowed</h3>
      <LightCurve />
      <div class="two">
        <Num
          label="Like frame"
          whole
          value={asked.like}
          placeholder="any"
          onCommit={(like) => change({ like })}
        />
        <Num
          label="Peak wanted on"
          whole
          value={asked.peak}
          placeholder="the middle"
          onCommit={(peak) => change({ peak })}
        />
      </div>
      <div class="buttons">
        <button type="button" onClick={() => change({ like: frame.value })}>
          Like {frame.value}
        </button>
        <button type="button" onClick={() => change({ peak: frame.value })}>
          Peak on {frame.value}
        </button>
      </div>
    </section>
  )
}
