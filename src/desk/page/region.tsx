// Step 1, draw: the aim, the tools, the shapes of an area, and what becomes of it where things move.
import { capital } from '../../sheet/data/words.js'
import { pointsAt } from '../shapes.js'
import type { Shape } from '../shot-state.js'
import {
  AREAS,
  area,
  areaKey,
  brushPx,
  cutting,
  nameOf,
  putShape,
  removeShape,
  select,
  selected,
  selectedId,
  setShapes,
  TOOLS,
  toggleKey,
  tool,
} from './areas.js'
import { Choice, Num, Text, Tick } from './fields.js'
import { boxRound, stretchedTo, withPoints } from './handles.js'
import { plateSize } from './looking.js'
import { Said } from './said.js'
import { ask, frame, redo, state, undo, undoable } from './state.js'

export function Region() {
  const asked = state.value!.asked
  const borrow = asked.aim === 'borrow'
  return (
    <>
      <Choice
        legend="Aim"
        value={asked.aim}
        options={[
          ['hide', 'Hide something'],
          ['borrow', 'Borrow a shadow'],
        ]}
        onPick={(aim) => ask({ aim })}
      />
      <p class="note">
        {borrow
          ? 'Brings a shadow or a reflection of another moment into the region.'
          : 'Covers what is in the region with pixels of other frames.'}
      </p>
      <Choice
        legend="Draw"
        value={areaKey.value}
        options={AREAS.filter(({ key }) => key !== 'lookIn' || borrow).map(({ key, name }) => [key, name])}
        onPick={(key) => {
          areaKey.value = key
          select(null)
        }}
      />
      {areaKey.value === 'region' ? null : (
        <p class="note">{capital(AREAS.find(({ key }) => key === areaKey.value)!.says)}.</p>
      )}
      <Tools />
      <Shapes />
      <Riding />
      <Said place="region" />
    </>
  )
}

function Tools() {
  return (
    <>
      <div class="tools-row">
        <Choice
          legend="Tool"
          hidden
          value={tool.value}
          options={TOOLS.map(({ tool: which, name }) => [which, name])}
          onPick={(which) => {
            tool.value = which
          }}
        />
      </div>
      <div class="line">
        <Choice
          legend="Whether it is added or cut"
          hidden
          value={cutting.value ? 'cut' : 'add'}
          options={[
            ['add', 'Add'],
            ['cut', 'Cut away'],
          ]}
          onPick={(which) => {
            cutting.value = which === 'cut'
          }}
        />
        <div class="buttons">
          <button type="button" disabled={!undoable.value.undo} onClick={undo}>
            Undo
          </button>
          <button type="button" disabled={!undoable.value.redo} onClick={redo}>
            Redo
          </button>
        </div>
      </div>
      {tool.value === 'brush' ? (
        <Num
          label="Brush"
          unit="px wide"
          value={brushPx.value}
          step={4}
          onCommit={(px) => {
            brushPx.value = Math.min(4000, Math.max(1, px ?? 24))
          }}
        />
      ) : null}
      {tool.value === 'polygon' ? (
        <p class="note">Click its corners; a double click, Enter or a click on the first closes it.</p>
      ) : null}
    </>
  )
}

function Shapes() {
  const { shapes, file } = area.value
  return (
    <section aria-label="Shapes">
      <ul class="shapes">
        {shapes.map((shape) => (
          <li key={shape.id}>
            <button
              type="button"
              aria-pressed={selectedId.value === shape.id}
              onClick={() => select(selectedId.value === shape.id ? null : shape.id)}
            >
              {nameOf(shape, shapes)}
            </button>
            <button
              type="button"
              aria-label={`Remove ${nameOf(shape, shapes)}`}
              onClick={() => removeShape(shape.id)}
            >
              Remove
            </button>
          </li>
        ))}
      </ul>
      <button type="button" onClick={addBox}>
        Add a box by numbers
      </button>
      {selected.value ? <Numbers shape={selected.value} /> : null}
      <Text
        label="Or a mask’s file"
        wide
        value={file ?? ''}
        placeholder="a still, a sequence, an SVG"
        onCommit={(path) =>
          ask({ [areaKey.value]: { shapes: path === '' ? shapes : [], file: path || null } })
        }
      />
    </section>
  )
}

/** In the middle of the plate, an eighth of its sides. */
function addBox(): void {
  const { width, height } = plateSize.value
  const [w, h] = [Math.round(width / 8), Math.round(height / 8)]
  const [x, y] = [Math.round((width - w) / 2), Math.round((height - h) / 2)]
  const shape: Shape = {
    id: crypto.randomUUID().slice(0, 8),
    kind: 'box',
    cut: cutting.value,
    keys: [
      {
        frame: frame.value,
        points: [
          [x, y],
          [x + w, y + h],
        ],
      },
    ],
  }
  setShapes([...area.value.shapes, shape])
  select(shape.id)
}

const SIDES = ['x', 'y', 'w', 'h'] as const
const SIDE_NAMES = { x: 'Left', y: 'Top', w: 'Width', h: 'Height' }

function Numbers({ shape }: { shape: Shape }) {
  const points = pointsAt(shape, frame.value)
  const box = boxRound(points)
  const here = shape.keys.some((key) => key.frame === frame.value)
  const moving = shape.keys.length > 1
  return (
    <div class="numbers-of">
      <div class="four">
        {SIDES.map((side, i) => (
          <Num
            key={side}
            label={SIDE_NAMES[side]}
            value={box[i]}
            onCommit={(value) => {
              if (value === null || (i > 1 && value < 1)) return
              const next = box.with(i, value) as [number, number, number, number]
              putShape(withPoints(shape, frame.value, stretchedTo(points, next)), `box ${shape.id}`)
            }}
          />
        ))}
      </div>
      {shape.kind === 'brush' ? (
        <Num
          label="Width"
          unit="px"
          value={shape.widthPx ?? 1}
          onCommit={(px) => px !== null && px > 0 && px <= 4000 && putShape({ ...shape, widthPx: px })}
        />
      ) : null}
      <Tick label="Cut away" checked={shape.cut} onChange={(cut) => putShape({ ...shape, cut })} />
      <div class="line">
        <button type="button" onClick={toggleKey} disabled={here && !moving}>
          {here && moving ? `Remove the key at ${frame.value}` : `Key at ${frame.value}`}
        </button>
        <p class="note">
          {moving
            ? `Keys at ${shape.keys.map((key) => key.frame).join(', ')}; it moves evenly between them.`
            : 'Something that moves: go to another frame, set a key there, and move the shape.'}
        </p>
      </div>
    </div>
  )
}

function Riding() {
  const { asked } = state.value!
  if (areaKey.value !== 'region') return null
  const moving = asked.region.shapes.some(({ keys }) => keys.length > 1)
  return (
    <Tick
      label="Rides on the scenery"
      checked={asked.maskAt !== null}
      note={
        asked.maskAt !== null
          ? `As drawn on ${asked.maskAt}, it stays on what it lies on where the camera moves.`
          : moving
            ? 'Keyed shapes go where their keys are.'
            : 'Where the camera moves: it stays on what it lies on.'
      }
      onChange={(rides) => ask({ maskAt: rides ? frame.value : null })}
    />
  )
}
