// A patch in figures: how it stands beside the plate, and what was lent to every frame.

import type { Patch, PatchFrame } from '../../repair/hand-over/patch.js'
import { finishLabel, finishWords } from '../data/finish-words.js'
import { plain } from '../data/measures.js'
import { Scrolls } from '../html/scrolls.js'

/** How one result's frames stand beside the plate. */
export interface ComparedResult {
  readonly of: string
  readonly check: NonNullable<Patch['check']>
}

const COMPARED = ['seam', 'flicker', 'noise', 'spectrum'] as const

const STANDING = {
  within: null,
  strays: ', the plate beside it strays as far',
  beyond: <b>, beyond the limit</b>,
} as const

/** Inside the patch beside the plate round it, of all frames together: a column per result. */
export function Checks({ checks }: { checks: readonly ComparedResult[] }) {
  const columns = checks.map(({ check }) => COMPARED.map((key) => finishWords(key, check[key], check.stray)))
  return (
    <Scrolls name="Patch beside the plate, table">
      <table class="compared">
        <caption class="note">The patch beside the plate round it, all frames: 1 is as the plate is</caption>
        <thead>
          <tr>
            <th scope="col">Measure</th>
            {checks.map(({ of }) => (
              <th scope="col">{of}</th>
            ))}
            <th scope="col">Wanted</th>
          </tr>
        </thead>
        <tbody>
          {COMPARED.map((key, i) => {
            const { label, meaning, wanted } = finishLabel(key)
            return (
              <tr>
                <th scope="row" title={meaning}>
                  {label}
                </th>
                {columns.map((column) => (
                  <td>
                    {column[i]!.figures}
                    {STANDING[column[i]!.standing]}
                  </td>
                ))}
                <td>{wanted}</td>
              </tr>
            )
          })}
        </tbody>
      </table>
      {checks.map(({ of, check }) =>
        check.unmeasured === null ? null : (
          <p class="note">
            {of}, not measured: {check.unmeasured}
          </p>
        ),
      )}
    </Scrolls>
  )
}

const HEADS = ['Share', 'Donor', 'Time offset', 'dx px', 'dy px', 'Gain R', 'Gain G', 'Gain B'] as const

const CHECKED = ['Seam', 'Flicker', 'Noise R', 'Noise G', 'Noise B'] as const

function checkedFigures({ check }: PatchFrame): string[] {
  const [r, g, b] = check?.noise ?? [null, null, null]
  return [check?.seam, check?.flicker, r, g, b].map((v) => v?.toFixed(2) ?? '–')
}

/** Of a frame's table rows: one for each donor, with what the frame looks like in the first alone. */
function rowsOf({ lent }: PatchFrame): number {
  return Math.max(1, lent.length)
}

export function Numbers({ patch }: { patch: Patch }) {
  const lifted = patch.strength !== undefined
  const isChecked = patch.frames.some(({ check }) => check !== undefined)
  return (
    <Scrolls name="All numbers, table">
      <table>
        <caption class="unseen">What lends to each frame, and how it was moved and lit</caption>
        <thead>
          <tr>
            <th scope="col">Frame</th>
            {HEADS.map((head) => (
              <th scope="col">{head}</th>
            ))}
            {lifted ? <th scope="col">Strength</th> : null}
            {isChecked ? CHECKED.map((head) => <th scope="col">{head}</th>) : null}
          </tr>
        </thead>
        <tbody>
          {patch.frames.flatMap((frame) =>
            (frame.lent.length > 0 ? frame.lent : [undefined]).map((share, i) => (
              <tr>
                {i > 0 ? null : (
                  <th scope="row" rowSpan={rowsOf(frame)}>
                    {frame.target}
                  </th>
                )}
                <td>{share ? share.share.toFixed(2) : '–'}</td>
                <td>{share?.frame ?? '–'}</td>
                <td>{share ? plain(share.timeOffset, 0, true) : '–'}</td>
                <td>{share ? plain(share.dx, 2) : '–'}</td>
                <td>{share ? plain(share.dy, 2) : '–'}</td>
                {[0, 1, 2].map((c) => (
                  <td>{share?.gain[c].toFixed(3) ?? '–'}</td>
                ))}
                {lifted ? <td>{frame.strength?.toFixed(2) ?? '–'}</td> : null}
                {isChecked && i === 0
                  ? checkedFigures(frame).map((text) => <td rowSpan={rowsOf(frame)}>{text}</td>)
                  : null}
              </tr>
            )),
          )}
        </tbody>
      </table>
    </Scrolls>
  )
}
