/** Bodies of comparisons and of the plan list, as the server documents them. */
import type { z } from 'zod';
import type { answerBody, dossierBody, planPage } from '../../api/advice-bodies.js';
import type { actionsBody } from '../../api/bodies.js';

export type Answer = z.output<typeof answerBody>;
export type Comparison = NonNullable<Answer['comparison']>;
export type PlanBody = z.output<typeof planPage>;
export type PlanLine = PlanBody['motors'][number];
export type Dossier = z.output<typeof dossierBody>;
export type Hypothesis = Dossier['advice']['hypotheses'][number];
export type ActionsBody = z.output<typeof actionsBody>;
export type ActionRow = ActionsBody['actions'][number];
