/** Bodies of the HTTP interface as the page knows them: the types of the very schemas that the server checks and documents. */
import type { z } from 'zod';
import type { performanceBody } from '../../api/alarm-performance-bodies.js';
import type { actResultsBody, alarmsBody, motorsBody, transientsBody } from '../../api/bodies.js';
import type { journalBody } from '../../api/journal-bodies.js';
import type { stripsBody } from '../../api/routes/strips.js';
import type {
  candidateBody,
  rehearsalBody,
  rehearsalsBody,
  settingsBody,
} from '../../api/rehearsal-bodies.js';
import type {
  AlarmMessage,
  EvidenceBody,
  JournalMessage,
  RateMessage,
} from '../../../shared/out-messages.js';

export type MotorsBody = z.output<typeof motorsBody>;
export type MotorBody = MotorsBody['motors'][number];
export type SensorBody = MotorBody['sensors'][number];
export type StripsBody = z.output<typeof stripsBody>;
export type TransientBody = z.output<typeof transientsBody>['transients'][number];
export type AlarmsBody = z.output<typeof alarmsBody>;
export type ActResultsBody = z.output<typeof actResultsBody>;
export type AlarmBody = AlarmMessage;
export type Evidence = EvidenceBody;
export type RateBody = RateMessage;
export type JournalEntry = JournalMessage;
export type JournalPage = z.output<typeof journalBody>;
export type JournalRow = JournalPage['journal'][number];
export type Performance = z.output<typeof performanceBody>;
export type Rehearsal = z.output<typeof rehearsalBody>;
export type RehearsalSettings = z.output<typeof settingsBody>;
export type SettingRow = RehearsalSettings['settings'][number];
export type Candidate = z.output<typeof candidateBody>;
export type Rehearsals = z.output<typeof rehearsalsBody>;

/** What the live stream says of a drive. */
export interface DriveEvent {
  readonly motor: string;
  readonly state: MotorBody['run_state'];
  readonly modulating: boolean;
  readonly at: string;
  readonly since: string | null;
}
