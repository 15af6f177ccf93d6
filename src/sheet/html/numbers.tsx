// One candidate's numbers over the range, each against its limits.

import type { WholeFinish } from '../../repair/finish/finish.js'
import type { Candidate, Result } from '../../search/result.js'
import { fieldWords } from '../data/field-words.js'
import { finishLabel, finishWords } from '../data/finish-words.js'
import { figures, measures, plain, standing } from '../data/measures.js'
import { withMinus } from '../data/minus.js'
import { offsetSpan } from '../data/words.js'
import { zoomAndRoll } from '../data/zoom-roll.js'
import { Bar, STANDING_WORDS } from './bar.js'
import { FINISH_ON_SHEET, MEANINGS_ID } from './meanings.js'
import { MomentNumbers } from './moment.js'

export function Numbers(props: { candidate: Candidate; result: Result; finish: WholeFinish | null }) {
  const { candidate, result, finish } = props
  const more = zoomAndRoll(candidate, result)
  const uneven = fieldWords(candidate, result.region)
  return (
    <table class="numbers">
      <caption>
        Numbers over the range, <a href={`#${MEANINGS_ID}`}>what they mean</a>
      </caption>
      <thead>
        <tr>
          <th scope="col">measure</th>
          <th scope="col">value</th>
          <th scope="col">against its limits</th>
        </tr>
      </thead>
      <tbody>
        {measures().map(({ key, label, meaning }) => {
          const at = standing(key, candidate, candidate.kind)
          return (
            <tr class={at}>
              <th scope="row" title={withMinus(meaning)}>
                {label}
              </th>
              <td class="figure" title={key === 'expected' ? likely(candidate.interval) : undefined}>
                {figures(key, candidate[key])}
              </td>
              <td>
                <Bar measure={key} candidate={candidate} />
                {at === 'holds' || at === 'absent' ? null : (
                  <span class="standing">{STANDING_WORDS[at]}</span>
                )}
              </td>
            </tr>
          )
        })}
        {candidate.moment ? <MomentNumbers moment={candidate.moment} /> : null}
        {(['dx', 'dy'] as const).map((axis) => (
          <tr>
            <th scope="row" title="2D offset that moves the donor onto the target">
              {axis}
            </th>
            <td class="figure" colSpan={2}>
              {offsetSpan(candidate.frames.map((f) => f[axis]))} px
            </td>
          </tr>
        ))}
        {more === null ? null : <ZoomAndRoll {...more} />}
        {uneven === null ? null : (
          <tr>
            <th scope="row" title="how much the light that is matched differs over the region">
              uneven light
            </th>
            <td class="figure" colSpan={2}>
              {uneven}
            </td>
          </tr>
        )}
        {finish === null ? null : <FinishNumbers finish={finish} />}
      </tbody>
    </table>
  )
}

const STANDING = {
  within: () => null,
  strays: () => <span class="note"> the plate beside it strays as far</span>,
  beyond: (wanted: string) => <span class="standing"> wanted {wanted}</span>,
} as const

/** The repaired frames beside the plate. */
function FinishNumbers({ finish }: { finish: WholeFinish }) {
  if (finish.noise === null && finish.unmeasured !== null)
    return (
      <tr>
        <th scope="row">noise, flicker</th>
        <td colSpan={2}>not measured: {finish.unmeasured}</td>
      </tr>
    )
  return (
    <>
      {FINISH_ON_SHEET.map((key) => {
        const { label, meaning, wanted } = finishLabel(key)
        const { figures: text, standing } = finishWords(key, finish[key], finish.stray)
        return (
          <tr class={standing === 'beyond' ? 'works' : 'holds'}>
            <th scope="row" title={`${meaning}; ${wanted} is wanted`}>
              {label}
            </th>
            <td class="figure" colSpan={2}>
              {text}
              {STANDING[standing](wanted)}
            </td>
          </tr>
        )
      })}
    </>
  )
}

function ZoomAndRoll({ zoom, roll }: { zoom: string; roll: string }) {
  return (
    <>
      <tr>
        <th scope="row" title="how much larger the donor is made to lie on the target">
          zoom
        </th>
        <td class="figure" colSpan={2}>
          {zoom}
        </td>
      </tr>
      <tr>
        <th scope="row" title="how far the donor is turned to lie on the target, clockwise">
          roll
        </th>
        <td class="figure" colSpan={2}>
          {roll}
        </td>
      </tr>
    </>
  )
}

/** Where what is expected lies. */
function likely(interval: Candidate['interval']): string | undefined {
  if (!interval) return undefined
  return `between ${plain(interval[0], 0)} and ${plain(interval[1], 0)} dB with nine chances in ten`
}
