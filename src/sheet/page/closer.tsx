// Looking closer at one candidate: a dialog over the page.
import { useLayoutEffect, useRef, useState } from 'preact/hooks'
import type { Choice } from '../data/decisions.js'
import { figures, scoreFigures } from '../data/measures.js'
import type { PageData, PageWay } from '../data/page-data.js'
import { capital, count, VERDICT_MARK } from '../data/words.js'
import type { FrameStore } from './data.js'
import type { Decided } from './decided.js'
import { Help } from './help.js'
import { LOOK_KEYS } from './keys.js'
import { atFrame, atWay, type Look, RATES, START, VIEWS } from './look.js'
import { useDecodingAhead, useFlipping, usePlaying } from './motion.js'
import { DecideHere, Display, Views } from './panel.js'
import type { RowNotes } from './row-notes.js'
import { mayAct } from './single-keys.js'
import { Stage } from './stage.js'

export interface CloserProps {
  data: PageData
  store: FrameStore
  decided: Decided
  notes: RowNotes
  visible: () => readonly number[]
  /** lets the page open it: a candidate, and the view to begin with */
  bind: (open: (way: number, view?: Look['view']) => void) => void
  onClose: (way: number) => void
}

export function Closer({ data, store, decided, notes, visible, bind, onClose }: CloserProps) {
  const [look, setLook] = useState<Look>(START)
  const [, redraw] = useState(0)
  const dialog = useRef<HTMLDialogElement>(null)
  const change = (step: Partial<Look>) => setLook((now) => ({ ...now, ...step }))
  const way = look.way === null ? null : data.ways[look.way]

  // Before the first paint: a click may come right after it.
  useLayoutEffect(() => {
    bind((index, view) => setLook((now) => atWay(now, data, index, view)))
    decided.onChange(() => redraw((n) => n + 1))
  }, [])
  const toPicture = () => dialog.current!.querySelector<HTMLElement>('.stage')?.focus()
  useLayoutEffect(() => {
    if (look.way === null || dialog.current!.open) return
    dialog.current!.showModal()
    // Else the first button would have the focus, which leads to another candidate.
    toPicture()
  }, [look.way])
  // What was in focus may have gone, or may not be pressed any more; the keys would go with it. Before the next paint: a key
  // may come right after.
  useLayoutEffect(() => {
    const at = document.activeElement
    if (dialog.current!.open && (!dialog.current!.contains(at) || at!.matches(':disabled'))) toPicture()
  })
  usePlaying(look, data, store, setLook)
  useFlipping(look, setLook)
  useDecodingAhead(look, data, store)

  const close = () => {
    const last = look.way
    setLook((now) => ({ ...now, way: null, playing: false, help: false }))
    dialog.current!.close()
    if (last !== null) onClose(last)
  }
  const choose = (choice: Choice) => {
    if (way) decided.choose(way.id, choice, notes.get(way.id))
  }
  const onKeyDown = (event: KeyboardEvent) => {
    const taken = takes(event)
    if (event.ctrlKey || event.metaKey || event.altKey) return
    if (look.help) {
      if (event.key !== 'Escape' && event.key !== '?') return
      change({ help: false })
      event.preventDefault()
      return
    }
    // A note is done: back to the picture, where the other keys work.
    if (event.key === 'Enter' && taken === 'all') toPicture()
    if (taken === 'all' || !mayAct(event.key)) return
    const key = LOOK_KEYS.find((each) => each.keys.includes(event.key))
    if (event.key === '?') change({ help: true })
    else if (
      !key ||
      (taken === 'moves' && MOVES.has(event.key)) ||
      (taken === 'presses' && event.key === ' ')
    )
      return
    else if (event.repeat && key.once) {
    } else if (key.run) setLook((now) => key.run!(now, { data, visible: visible() }))
    else if (key.choose) choose(key.choose)
    else if (key.act === 'close') close()
    else if (key.act === 'note') document.getElementById('closer-note')?.focus()
    event.preventDefault()
  }

  return (
    <dialog
      class="closer"
      ref={dialog}
      aria-labelledby="closer-name"
      onKeyDown={onKeyDown}
      onKeyUp={(event) => {
        // Some browsers press a button when Space comes up again.
        if (event.key === ' ' && event.target instanceof HTMLButtonElement && !look.help)
          event.preventDefault()
      }}
      onClick={({ target, detail }) => {
        // Clicked, not pressed by a key: the next key is meant for the picture.
        if (detail > 0 && target instanceof Element && target.closest('button')) toPicture()
      }}
      onCancel={(event) => {
        event.preventDefault()
        if (look.help) change({ help: false })
        else close()
      }}
    >
      {way && look.way !== null ? (
        <>
          <header class="closer-head">
            <h2 id="closer-name">
              <span class="rank">{look.way + 1}</span> {capital(way.kind)}: {way.words}
            </h2>
            <p>
              <span aria-hidden="true">{VERDICT_MARK[way.verdict]}</span> {way.verdict}, score{' '}
              {scoreFigures(way.score)} <code>{way.id}</code>
            </p>
            <Neighbours
              look={look}
              data={data}
              visible={visible()}
              onGo={(i) => setLook((now) => atWay(now, data, i))}
            />
            <button type="button" onClick={() => change({ help: !look.help })}>
              Keys <kbd>?</kbd>
            </button>
            <button type="button" onClick={close}>
              Back <kbd>Esc</kbd>
            </button>
          </header>
          <Stage
            look={look}
            data={data}
            store={store}
            alt={pictureText(look, way, data)}
            onWipe={(wipe) => change({ wipe })}
          />
          <Course look={look} data={data} way={way} setLook={setLook} />
          <div class="panel">
            <Views look={look} change={change} />
            <Display look={look} change={change} />
            <DecideHere
              candidate={way.id}
              decision={decided.get(way.id)}
              note={notes.get(way.id)}
              onChoose={choose}
              onNote={(note) => {
                notes.set(way.id, note)
                decided.note(way.id, note)
              }}
            />
          </div>
          {look.help ? <Help onClose={() => change({ help: false })} /> : null}
        </>
      ) : null}
    </dialog>
  )
}

function Neighbours(props: {
  look: Look
  data: PageData
  visible: readonly number[]
  onGo: (way: number) => void
}) {
  const { look, visible, onGo } = props
  const at = visible.indexOf(look.way!)
  return (
    <div class="buttons">
      <button type="button" disabled={at <= 0} onClick={() => onGo(visible[at - 1])}>
        Previous
      </button>
      <button
        type="button"
        disabled={at < 0 || at >= visible.length - 1}
        onClick={() => onGo(visible[at + 1])}
      >
        Next
      </button>
    </div>
  )
}

/** The course of frames: where it stands, moving along it, playing it. */
function Course(props: {
  look: Look
  data: PageData
  way: PageWay
  setLook: (f: (now: Look) => Look) => void
}) {
  const { look, data, way, setLook } = props
  const [at, donor, seam] = way.frames[look.frame]
  const target = data.targets[at].frame
  const carried = way.frames.length
  return (
    <div class="course">
      <button
        type="button"
        class="play"
        disabled={carried < 2}
        onClick={() => setLook((now) => ({ ...now, playing: !now.playing }))}
      >
        {look.playing ? 'Stop' : 'Play'}
      </button>
      <label>
        at{' '}
        <select
          aria-label="Rate"
          value={String(look.rate)}
          onChange={(event) => {
            const rate = Number(event.currentTarget.value)
            setLook((now) => ({ ...now, rate }))
          }}
        >
          {RATES.map((rate) => (
            <option value={String(rate)}>{rate} fps</option>
          ))}
        </select>
      </label>
      <input
        type="range"
        class="scrub"
        aria-label="Frame"
        aria-valuetext={`target frame ${target}`}
        min={0}
        max={Math.max(1, carried - 1)}
        disabled={carried < 2}
        step={1}
        value={look.frame}
        onInput={(event) => {
          const frame = Number(event.currentTarget.value)
          setLook((now) => atFrame({ ...now, playing: false }, data, frame))
        }}
      />
      <p class="course-frame">
        target <b id="closer-target">{target}</b> donor <b>{donor}</b> seam <b>{figures('seam', seam)}</b>
      </p>
      {carried < data.count ? (
        <p class="note">
          {carried === 1 ? 'Its weakest frame alone' : `${count(carried, 'frame')} of ${data.count}`}: the
          page has no room for more.
        </p>
      ) : null}
    </div>
  )
}

function pictureText(look: Look, way: PageWay, data: PageData): string {
  const [at, donor, seam] = way.frames[look.frame]
  const name = VIEWS.find((each) => each.view === look.view)!.name
  return `${name}, target frame ${data.targets[at].frame}, donor frame ${donor}, seam ${figures('seam', seam)}: ${way.verdict}`
}

const MOVES = new Set(['ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown', 'Home', 'End'])

/**
 * What the element in focus needs for itself: everything typed, the keys that move it, the key that ticks it. A button
 * is pressed by Enter alone: Space plays, whichever button was the last one used.
 */
function takes({ target, key }: KeyboardEvent): 'all' | 'moves' | 'presses' | 'none' {
  if (!(target instanceof HTMLElement) || key === 'Escape') return 'none'
  if (target instanceof HTMLSelectElement) return 'all'
  if (target instanceof HTMLInputElement) {
    if (target.type === 'range') return 'moves'
    return target.type === 'checkbox' ? 'presses' : 'all'
  }
  return 'none'
}
