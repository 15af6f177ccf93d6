// Every candidate's numbers in one table; with the script its heads sort it and the rows above.
import { figures, measures, scoreFigures, standing } from '../data/measures.js'
import { capital, inWords, VERDICT_MARK } from '../data/words.js'
import { Meanings } from './meanings.js'
import { Scrolls } from './scrolls.js'
import { rowId, type Shown } from './shown.js'

export function Overview({ shown: { rows } }: { shown: Shown }) {
  if (rows.length === 0) return null
  return (
    <section class="overview" aria-labelledby="overview-name">
      <h2 id="overview-name">All numbers</h2>
      <Scrolls name="All numbers, table">
        <table id="overview">
          <thead>
            <tr>
              <th scope="col" data-sort="rank" aria-sort="ascending" data-first="best">
                <Head name="rank" />
              </th>
              <th scope="col">candidate</th>
              <th scope="col">verdict</th>
              <th scope="col">score</th>
              {measures().map(({ key, label }) => (
                <th scope="col" data-sort={key}>
                  <Head name={label} />
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map(({ candidate, rank }) => (
              <tr data-row={rowId(candidate)}>
                <td>{rank}</td>
                <th scope="row">
                  <a href={`#${rowId(candidate)}`}>{capital(inWords(candidate))}</a>
                  <span class="overview-pick">
                    {candidate.asked ? 'asked for, ' : ''}--pick <code>{candidate.id}</code>
                  </span>
                </th>
                <td class="nowrap">
                  <span aria-hidden="true">{VERDICT_MARK[candidate.verdict]}</span> {candidate.verdict}
                </td>
                <td>{scoreFigures(candidate.score)}</td>
                {measures().map(({ key }) => (
                  <td
                    class={
                      ['holds', 'absent'].includes(standing(key, candidate, candidate.kind)) ? '' : 'off'
                    }
                  >
                    {figures(key, candidate[key])}
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </Scrolls>
      <p class="note">Numbers beyond their limit are underlined.</p>
      <Meanings />
    </section>
  )
}

/** Plain text until the script makes a button of it. */
function Head({ name }: { name: string }) {
  return <span data-part="head">{name}</span>
}
