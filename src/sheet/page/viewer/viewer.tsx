// The viewer: a candidate's frames as pictures, alone or beside another's, and what steers them. It takes its data and its
// pictures by arguments and looks nothing up in the page, so any page can mount it.
import type { ComponentChildren } from 'preact'
import { useLayoutEffect, useRef } from 'preact/hooks'
import { figures, scoreFigures } from '../../data/measures.js'
import { capital, VERDICT_MARK } from '../../data/words.js'
import { Course } from './course.js'
import type { FrameStore } from './frame-store.js'
import { atWay, frameFor, type Look, swapped, targetInView, VIEWS, withBeside, withWhole } from './look.js'
import { useDecodingAhead, useFlipping, usePlaying } from './motion.js'
import { Display, Views } from './panel.js'
import { zoomStep } from './place.js'
import { Stage } from './stage.js'
import { targetOf, type ViewerData } from './viewer-data.js'

export interface ViewerProps {
  readonly look: Look
  readonly setLook: (f: (now: Look) => Look) => void
  readonly data: ViewerData
  readonly store: FrameStore
  /** candidates that can be gone to, in their order */
  readonly visible: readonly number[]
  /** told the zoom that fits, which the keys need: see onLookKey */
  readonly onFit: (fit: number) => void
  /** element id of the heading that names the candidate */
  readonly nameId: string
  /** at the end of the head: buttons */
  readonly buttons?: ComponentChildren
  /** in the panel, under views and display */
  readonly children?: ComponentChildren
}

/** Fills a grid of a head, pictures, their course and a panel: the class `viewer` lays it out. Empty while `look.way` is null. */
export function Viewer(props: ViewerProps) {
  const { look, setLook, data, store, visible, nameId, buttons, children } = props
  usePlaying(look, data, store, setLook)
  useFlipping(look, setLook)
  useDecodingAhead(look, data, store)
  const fit = useRef(1)
  if (look.way === null) return null
  const way = data.ways[look.way]
  const change = (step: Partial<Look>) => setLook((now) => ({ ...now, ...step }))
  const zoomBy = (by: 1 | -1) =>
    setLook((now) => {
      const zoom = zoomStep(now.zoom, fit.current, by)
      return { ...now, zoom, centre: zoom === 0 ? null : now.centre }
    })
  const onFit = (now: number) => {
    fit.current = now
    props.onFit(now)
  }
  return (
    <>
      <header class="viewer-head">
        <h2 id={nameId}>
          <span class="rank">{look.way + 1}</span> {capital(way.kind)}: {way.words}
        </h2>
        <p>
          <span aria-hidden="true">{VERDICT_MARK[way.verdict]}</span> {way.verdict}, score{' '}
          {scoreFigures(way.score)}, --pick <code>{way.id}</code>
        </p>
        <div class="viewer-buttons">
          <Neighbours {...{ look, visible }} onGo={(to) => setLook((now) => atWay(now, data, to))} />
          {buttons}
        </div>
      </header>
      <Stages {...{ look, setLook, data, store, onFit }} />
      <Course {...{ look, data, setLook }} way={look.way} />
      <div class="panel">
        <Views look={look} change={change} />
        <Display
          {...{ look, change, zoomBy }}
          onWhole={data.whole ? (whole) => setLook((now) => withWhole(now, whole)) : undefined}
        />
        {data.ways.length > 1 ? (
          <Beside {...{ look, data, visible }} onBeside={(to) => setLook((now) => withBeside(now, to))} />
        ) : null}
        {children}
      </div>
    </>
  )
}

type StagesProps = Pick<ViewerProps, 'look' | 'setLook' | 'data' | 'store' | 'onFit'>

/** One candidate, or two side by side on the same target frame: the one in question is marked. */
function Stages({ look, setLook, data, store, onFit }: StagesProps) {
  const all = useRef<HTMLDivElement>(null)
  // The focus stays with the candidate in question, as keys act on that one.
  useLayoutEffect(() => {
    const at = document.activeElement
    const left = at?.closest('.pane:not([aria-current])')
    if (left && all.current!.contains(left)) pictureIn(all.current!)?.focus()
  }, [look.right, look.beside])
  const asked: Pane = { way: look.way!, frame: look.frame }
  const beside: Pane[] =
    look.beside === null
      ? []
      : [{ way: look.beside, frame: frameFor(data, look.beside, targetInView(look, data)) }]
  const panes = look.right ? [...beside, asked] : [asked, ...beside]
  return (
    <div class={`stages ${panes.length > 1 ? 'stages-two' : ''}`} ref={all}>
      {panes.map((pane, i) => {
        const side = panes.length > 1 ? `, ${i === 0 ? 'left' : 'right'}: ${nameOf(data, pane.way)}` : ''
        return (
          <div class="pane" key={i} aria-current={pane === asked ? 'true' : undefined}>
            <Stage
              {...{ look, setLook, data, store, onFit }}
              {...pane}
              name={`Picture${side}`}
              alt={pictureText(look, pane, data)}
              onTaken={pane === asked ? undefined : () => setLook((now) => swapped(now, data))}
            />
            {panes.length > 1 ? <PaneName {...{ data, pane, asked }} /> : null}
          </div>
        )
      })}
    </div>
  )
}

/** The picture of the candidate in question, which takes the focus. @param root an element round the viewer */
export function pictureIn(root: Element): HTMLElement | null {
  return root.querySelector<HTMLElement>('.pane[aria-current] > .stage')
}

function PaneName({ data, pane, asked }: { data: ViewerData; pane: Pane; asked: Pane }) {
  const { verdict, frames } = data.ways[pane.way]
  const [, donor, seam] = frames[pane.frame]
  const { frame } = targetOf(data, pane.way, pane.frame)
  const same = frame === targetOf(data, asked.way, asked.frame).frame
  return (
    <p class="pane-name">
      {nameOf(data, pane.way)} <span aria-hidden="true">{VERDICT_MARK[verdict]}</span> {verdict}, donor{' '}
      <b>{donor}</b> seam <b>{figures('seam', seam)}</b>
      {/* Where the other candidate has no picture of the frame in view. */}
      {same ? '' : `, on target ${frame}`}
    </p>
  )
}

/** "2 Run: the same 123 frames later, 1183 to 1192". */
function nameOf({ ways }: ViewerData, way: number): string {
  return `${way + 1} ${capital(ways[way].kind)}: ${ways[way].words}`
}

interface Pane {
  readonly way: number
  readonly frame: number
}

function Neighbours(props: { look: Look; visible: readonly number[]; onGo: (way: number) => void }) {
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

/** Which candidate stands beside the one in question. */
function Beside(props: {
  look: Look
  data: ViewerData
  visible: readonly number[]
  onBeside: (way: number | null) => void
}) {
  const { look, data, visible, onBeside } = props
  const others = visible.filter((way) => way !== look.way)
  const listed = look.beside === null || others.includes(look.beside) ? others : [look.beside, ...others]
  return (
    <label class="beside">
      Beside it{' '}
      <select
        value={look.beside === null ? '' : String(look.beside)}
        onChange={(event) => {
          const { value } = event.currentTarget
          onBeside(value === '' ? null : Number(value))
        }}
      >
        <option value="">nothing</option>
        {listed.map((way) => (
          <option value={String(way)}>{nameOf(data, way)}</option>
        ))}
      </select>
    </label>
  )
}

function pictureText(look: Look, { way, frame }: Pane, data: ViewerData): string {
  const { verdict, frames } = data.ways[way]
  const [, donor, seam] = frames[frame]
  const name = VIEWS.find((each) => each.view === look.view)!.name
  return `${name}, target frame ${targetOf(data, way, frame).frame}, donor frame ${donor}, seam ${figures('seam', seam)}: ${verdict}`
}
