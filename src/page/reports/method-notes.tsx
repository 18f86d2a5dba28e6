/** How the figures of a report came about, with sources; and what every count says and does not say. */
import type { ComponentChildren } from 'preact';

export interface MethodNote {
  readonly text: string;
  readonly source: string;
}

const OURS = 'definition of this gateway';

export const RATE_NOTES: readonly MethodNote[] = [
  {
    text: 'A rate is the pulses of class running over the time of class running. Starts, stops, interference common to several motors, function checks and what nobody can attribute are set aside with their time, so that the rate stays unbiased; they are listed, never dropped.',
    source: OURS,
  },
  {
    text: 'Limits hold with 95 % confidence: exact limits of a Poisson mean on N/φ, times φ, over the exposure. φ is the dispersion of the counts, because discharges come in bursts.',
    source:
      'F. Garwood, Biometrika 28 (1936) 437-442; McCullagh and Nelder, Generalized Linear Models (1989), chapter 6',
  },
  {
    text: 'Over more than a week the limits of the whole are those of a delete-one jackknife over its running days: they see that one day differs from another. With fewer than seven running days they go by the dispersion of those.',
    source: 'B. Efron and C. Stein, Annals of Statistics 9 (1981) 586-596',
  },
  {
    text: 'Rates are corrected for the dead time of the device, non-paralysable.',
    source: 'G. F. Knoll, Radiation Detection and Measurement, chapter 4',
  },
];

export const GROUP_NOTES: readonly MethodNote[] = [
  {
    text: 'Motors of a group are compared bin by bin of like speed, load, switching frequency and temperature; bins that one side never visited say nothing.',
    source: 'stratified rate ratio, Greenland and Robins; the bins are a choice of this gateway',
  },
  {
    text: 'The table of a group and the list for the next outage place a motor by the logarithm of its counts over what the middle of its group predicts, and their limits hold what the group itself leaves open; the sentence "against its sisters" puts it against the sisters in the middle. The ratios agree, their limits differ.',
    source: 'F. R. Hampel, JASA 69 (1974) 383-393; the rest is a choice of this gateway',
  },
  {
    text: 'One motor is called odd when chance would bring so high a rate among healthy motors less often than 1 in 2,000, it counts more than twice the middle of its group, and it does so on two looks a day apart. Two odd ones in a group of four cannot be told apart.',
    source: OURS,
  },
];

export const ALARM_NOTES: readonly MethodNote[] = [
  {
    text: 'Alarms are told from the journal in the order in which they were written; an alarm is raised when the lower limit of the rate lies above its setpoint for the on-delay.',
    source: OURS,
  },
];

/** Said in every report. */
export const COUNT_CAUTION =
  'A count is not a severity and no diagnosis. No published limit says how many discharges are safe, and no counts do not prove that no current flows through the bearing. Figures and hypotheses here are reasons to look; a competent person confirms them by shaft voltage, grease sample or inspection.';

export function MethodNotes({
  notes,
  children,
}: {
  notes: readonly MethodNote[];
  children?: ComponentChildren;
}) {
  return (
    <section class="report-part" aria-labelledby="report-method">
      <h2 id="report-method">Method and sources</h2>
      <ul class="report-notes">
        {notes.map(({ text, source }) => (
          <li key={text}>
            {text} <span class="source-of">[{source}]</span>
          </li>
        ))}
      </ul>
      {children}
    </section>
  );
}
