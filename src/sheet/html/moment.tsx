// What a borrow's row shows beside the rest: the moment's frames, its ratio, its depth over the frames.
import type { Candidate, Moment } from '../../search/result.js'
import { figures, plain } from '../data/measures.js'
import { Legend, Picture, Pictures, Target } from './picture.js'
import { Plot } from './plot.js'
import type { ShownRow } from './shown.js'

export function MomentPictures({ row, moment }: { row: ShownRow; moment: Moment }) {
  const { candidate, rect } = row
  const match = candidate.frames[row.shown]
  const change = `${plain(Math.abs(moment.depthStops), 2)} stops ${moment.sign}`
  return (
    <>
      <Pictures rect={rect}>
        <Target row={row} />
        <figure data-view="repaired">
          <Picture
            uri={row.repaired}
            rect={rect}
            alt={`Target frame ${match.target} with it applied: ${candidate.verdict}`}
          />
          <figcaption>with it applied</figcaption>
        </figure>
        <figure data-view="lent">
          <Picture
            uri={row.donor}
            rect={rect}
            alt={`Donor frame ${match.donor} on the region, ${change} at the peak`}
          />
          <figcaption>
            donor <b>{match.donor}</b>
            {standingOut(match.donor, moment, ', the ')}
          </figcaption>
        </figure>
        {row.ratio ? (
          <figure data-view="difference">
            <Picture
              uri={row.ratio}
              rect={rect}
              alt={`Ratio to the reference state, ${change}; mid grey is no change`}
            />
            <figcaption>
              ratio <Legend />
            </figcaption>
          </figure>
        ) : null}
      </Pictures>
      <ol class="strip" aria-label={`The moment, ${moment.start} to ${moment.end}`}>
        {row.strip.map(({ index, donor }) => {
          const frame = candidate.frames[index].donor
          return (
            <li>
              <Picture
                uri={donor}
                rect={rect}
                alt={`Donor frame ${frame}${standingOut(frame, moment, ', the ')}`}
              />
              <span>
                {frame}
                {standingOut(frame, moment, ' ')}
              </span>
            </li>
          )
        })}
      </ol>
    </>
  )
}

/** Why a donor frame is looked at: it is the peak, or the one on which the lift is furthest from light. */
function standingOut(frame: number, { peak, worst }: Moment, before: string): string {
  const names = [frame === peak ? 'peak' : '', frame === worst ? 'worst' : ''].filter((name) => name !== '')
  return names.length > 0 ? before + names.join(' and ') : ''
}

export function MomentNumbers({ moment }: { moment: Moment }) {
  const rows: [name: string, meaning: string, value: string][] = [
    [
      'depth',
      'change of luminance where it is deepest, at the peak',
      `${plain(Math.abs(moment.depthStops), 2)} stops ${moment.sign}`,
    ],
    ['coverage', 'share of the region that is changed at the peak', `${Math.round(100 * moment.coverage)} %`],
    [
      'surface',
      'likeness of the texture under the change to the reference state; 1 is the same surface',
      moment.surface === null ? 'no texture to tell by' : figures('ncc', moment.surface),
    ],
    ...(moment.edgeStep === undefined
      ? []
      : [
          [
            'edge step',
            "the largest step of light at the mask's edge on which the lift ends",
            moment.edgeStep === 0 ? 'none shows' : `${plain(moment.edgeStep, 2)} stops`,
          ] satisfies [string, string, string],
        ]),
    [
      'what',
      'whether the light changes or something covers the surface',
      moment.what === 'light' ? 'light' : 'an object',
    ],
  ]
  if (moment.likeness !== undefined) {
    rows.push([
      'likeness',
      'to the frame that was asked for; 1 is the same change',
      plain(moment.likeness, 2),
    ])
  }
  return (
    <>
      {rows.map(([name, meaning, value]) => (
        <tr>
          <th scope="row" title={meaning}>
            {name}
          </th>
          <td class="figure" colSpan={2}>
            {value}
          </td>
        </tr>
      ))}
    </>
  )
}

/** The change over the donor's frames, which is less than its depth wherever it leaves a part of the region; with the stretch that lands on the target range. */
export function DepthPlot({ candidate, moment }: { candidate: Candidate; moment: Moment }) {
  const { depths = [] } = moment
  if (depths.length < 2) return null
  const { frames } = candidate
  const [first, last] = [frames[0], frames[frames.length - 1]]
  return (
    <Plot
      title="mean change of the region, stops"
      least={0.2}
      frames={depths.map((d) => d.frame)}
      lines={[{ name: 'mean change', values: depths.map((d) => d.stops) }]}
      digits={2}
      stretch={{ from: first.donor, to: last.donor, name: `target ${first.target} to ${last.target}` }}
      mark={moment.peak}
    />
  )
}
