/** The view "Reports": choose one, or read and print the one that the address names. */
import type { ScreenProps } from '../view.js';
import { GroupReport } from './group-report.js';
import { MotorReport } from './motor-report.js';
import { PeriodReport } from './period-report.js';
import { ReportChooser } from './report-chooser.js';
import { readSpan } from './report-span.js';
import '../parts/station.css';
import '../parts/print.css';
import './reports.css';

/** `/reports`, `/reports/motor/MOTOR?from=MS&to=MS`, `/reports/group/GROUP?…`, `/reports/period?…` */
export function ReportsScreen({ rest, query }: ScreenProps) {
  const [kind = '', of = ''] = rest;
  const span = readSpan(query.get('from'), query.get('to'));
  if (span === null && kind !== '')
    return (
      <>
        <p role="alert">
          This address names no time that a report can be of: from and to in milliseconds, at most a year
          apart.
        </p>
        <ReportChooser />
      </>
    );
  const key = `${of} ${span?.from ?? ''} ${span?.to ?? ''}`;
  if (span !== null && kind === 'motor' && of !== '') return <MotorReport key={key} motor={of} span={span} />;
  if (span !== null && kind === 'group' && of !== '') return <GroupReport key={key} group={of} span={span} />;
  if (span !== null && kind === 'period') return <PeriodReport key={key} span={span} />;
  return <ReportChooser />;
}
