/**
 * Alarms as conditions (OPC 10000-9): their states follow the gateway's records and nothing else. What a person does to one
 * goes to the gateway as an act of that person; the condition changes when the gateway's record has.
 */
import type { ISessionContext, Namespace, UAAlarmConditionEx, UAMethod } from 'node-opcua-address-space';
import type { AlarmNews } from './news.js';
import type { OpcuaParts } from './opcua-package.js';
import type { OpcuaSettings } from './opcua-settings.js';
import { sealBelow } from './opcua-seal.js';
import type { OpcuaSpace } from './opcua-space.js';
import type { PlantAlarm } from './plant.js';
import type { ServerLink } from './server-link.js';
import type { OperateAnswer, OperateWish } from './wishes.js';

/**
 * Most conditions that stand in the address space from the start; the others come with their first alarm. Each is some
 * hundred nodes, and a plant of a thousand sensors has ten thousand alarms.
 */
const FROM_START_MAX = 500;
/** Most conditions at all. */
const CONDITIONS_MAX = 3_000;

/** Bands of OPC 10000-9 for severities, low to high. Our choice within them. */
const SEVERITIES = { low: 200, medium: 500, high: 800 } as const;

const OPTIONALS = [
  'ConfirmedState',
  'Confirm',
  'ShelvingState',
  'ShelvingState.UnshelveTime',
  'SuppressedState',
];

/** The gateway's refusals as status codes of OPC 10000-9 clause 5; any other is an invalid state. */
const REFUSALS: Readonly<Record<string, string>> = {
  'nothing-to-acknowledge': 'BadConditionBranchAlreadyAcked',
  'nothing-to-confirm': 'BadConditionBranchAlreadyConfirmed',
  'not-shelved': 'BadConditionNotShelved',
  'until-past': 'BadShelvingTimeOutOfRange',
  'until-too-far': 'BadShelvingTimeOutOfRange',
};

type StatusWord = keyof OpcuaParts['status']['StatusCodes'];
type MethodCallback = (error: null, answer: { statusCode: unknown; outputArguments: [] }) => void;
type Act = Pick<OperateWish, 'act' | 'forMs' | 'once'>;

export class OpcuaAlarms {
  readonly #parts: OpcuaParts;
  readonly #space: Namespace;
  readonly #settings: OpcuaSettings;
  readonly #nodes: OpcuaSpace;
  readonly #link: ServerLink;
  readonly #planned: ReadonlyMap<string, PlantAlarm>;
  readonly #conditions = new Map<string, UAAlarmConditionEx>();
  readonly #shown = new Map<string, string>();
  readonly #operators: ReadonlySet<string>;
  #isFullSaid = false;

  constructor(
    parts: OpcuaParts,
    space: Namespace,
    settings: OpcuaSettings,
    nodes: OpcuaSpace,
    link: ServerLink,
  ) {
    this.#parts = parts;
    this.#space = space;
    this.#settings = settings;
    this.#nodes = nodes;
    this.#link = link;
    const { alarms } = settings.plant;
    this.#planned = new Map(alarms.map((alarm) => [alarm.id, alarm]));
    const operators = settings.users.filter(({ role }) => role === 'operator');
    this.#operators = new Set(operators.map(({ name }) => name));
    this.#bindTypes();
    for (const alarm of alarms.slice(0, FROM_START_MAX)) this.#add(alarm);
  }

  take(alarms: readonly AlarmNews[]): void {
    for (const news of alarms) {
      const planned = this.#planned.get(news.id);
      if (planned === undefined) continue;
      const condition = this.#conditions.get(news.id) ?? this.#add(planned);
      const key = JSON.stringify(news);
      // after a restart of this process everything comes again: what never stood asks for no event
      if (condition === null || this.#shown.get(news.id) === key) continue;
      this.#shown.set(news.id, key);
      try {
        this.#show(condition, planned, news);
      } catch (error) {
        // one condition that the package cannot show must not take away the others
        const reason = error instanceof Error ? error.message : String(error);
        this.#link.say('warn', `alarm ${news.id} cannot be shown: ${reason}`);
      }
    }
  }

  #add(alarm: PlantAlarm): UAAlarmConditionEx | null {
    if (this.#conditions.size >= CONDITIONS_MAX) {
      if (!this.#isFullSaid)
        this.#link.say(
          'warn',
          `more than ${CONDITIONS_MAX} alarms: further ones are not shown as conditions`,
        );
      this.#isFullSaid = true;
      return null;
    }
    const source = this.#nodes.objectOf(alarm.sensor ?? alarm.motor);
    const input = alarm.sensor === null ? undefined : this.#nodes.rates.get(alarm.sensor);
    const condition = this.#space.instantiateAlarmCondition('AlarmConditionType', {
      ...{ nodeId: `s=alarm/${alarm.id}`, browseName: alarm.id, componentOf: source },
      ...{ conditionSource: source, conditionOf: source, conditionName: alarm.id, optionals: [...OPTIONALS] },
      inputNode: input ?? this.#parts.nodeId.NodeId.nullNodeId,
      maxTimeShelved: Math.min(this.#settings.shelfMaxMs, 2 ** 31 - 1),
    });
    this.#bind(condition, alarm.id);
    condition.currentBranch().setMessage(alarm.action);
    sealBelow(this.#parts, condition);
    this.#conditions.set(alarm.id, condition);
    return condition;
  }

  #show(condition: UAAlarmConditionEx, planned: PlantAlarm, news: AlarmNews): void {
    const branch = condition.currentBranch();
    branch.setActiveState(news.active);
    branch.setAckedState(news.acknowledged);
    branch.setConfirmedStateIfExists(news.confirmed);
    // the package can build OutOfServiceState and not set it; either way the operator is not to see it
    branch.setSuppressedState(news.isSuppressed || news.isOutOfService);
    if (news.note !== '') branch.setComment(news.note);
    if (news.by !== '') branch.setClientUserId(news.by);
    this.#showShelf(condition, news);
    const { StatusCodes } = this.#parts.status;
    const isOpen = news.active || !news.acknowledged || !news.confirmed || news.latched;
    condition.raiseNewCondition({
      message: news.says === '' ? planned.action : `${news.says} ${planned.action}`,
      severity: SEVERITIES[news.priority],
      // an alarm on a value that nobody can judge now is questionable: OPC 10000-9 clause 5.5.2
      quality: news.isHeld ? StatusCodes.UncertainLastUsableValue : StatusCodes.Good,
      retain: isOpen && news.state !== 'normal',
      time: new Date(news.since ?? this.#link.clock.now()),
    });
  }

  #showShelf(condition: UAAlarmConditionEx, { shelvedUntil, shelvedOnce }: AlarmNews): void {
    const shelf = condition.shelvingState as unknown as {
      setState(state: string): void;
      getCurrentState(): string | null;
      _shelvedTime?: Date;
      _duration?: number;
    };
    const state = shelvedUntil === null ? 'Unshelved' : shelvedOnce ? 'OneShotShelved' : 'TimedShelved';
    if (shelf.getCurrentState() !== state) shelf.setState(state);
    if (shelvedUntil === null) return;
    // what UnshelveTime is worked out from; the gateway ends the shelf
    shelf._shelvedTime = new Date();
    shelf._duration = Math.max(0, shelvedUntil - this.#link.clock.now());
  }

  /** Clients may call by the method of the type; it acts on the condition that it is called for. */
  #bindTypes(): void {
    const { addressSpace } = this.#space;
    const ofType = (type: string, name: string): UAMethod | null =>
      addressSpace.findObjectType(type)?.getMethodByName(name) ?? null;
    const acknowledgeable = 'AcknowledgeableConditionType';
    this.#bindAct(ofType(acknowledgeable, 'Acknowledge'), null, () => plainAct('acknowledge'));
    this.#bindAct(ofType(acknowledgeable, 'Confirm'), null, () => plainAct('confirm'));
    const shelf = 'ShelvedStateMachineType';
    this.#bindAct(ofType(shelf, 'Unshelve'), null, () => plainAct('unshelve'));
    this.#bindAct(ofType(shelf, 'OneShotShelve'), null, () => this.#shelveOnce());
    this.#bindAct(ofType(shelf, 'TimedShelve'), null, readShelf);
    for (const name of ['AddComment', 'Enable', 'Disable']) this.#forbid(ofType('ConditionType', name));
  }

  #bind(condition: UAAlarmConditionEx, id: string): void {
    this.#bindAct(condition.acknowledge, id, () => plainAct('acknowledge'));
    this.#bindAct(condition.confirm ?? null, id, () => plainAct('confirm'));
    const { shelvingState } = condition;
    this.#bindAct(shelvingState?.unshelve ?? null, id, () => plainAct('unshelve'));
    this.#bindAct(shelvingState?.oneShotShelve ?? null, id, () => this.#shelveOnce());
    this.#bindAct(shelvingState?.timedShelve ?? null, id, readShelf);
    for (const method of [condition.addComment, condition.enable, condition.disable]) this.#forbid(method);
  }

  /** The configuration decides what is on, and notes belong to acts, so that they are in the journal. */
  #forbid(method: UAMethod | null): void {
    method?.bindMethod(((_inputs: unknown, _context: unknown, callback: MethodCallback) =>
      callback(null, this.#answer('BadNotSupported'))) as never);
  }

  /** `id` null: of a type, and the object of the call says which alarm. */
  #bindAct(method: UAMethod | null, id: string | null, toAct: (inputs: Inputs) => Act): void {
    method?.bindMethod(((inputs: Inputs, context: ISessionContext, callback: MethodCallback) => {
      const alarm = id ?? this.#findAlarm(context);
      const done = (word: string): void => callback(null, this.#answer(word));
      if (alarm === null) done('BadNodeIdInvalid');
      else
        void this.#act(alarm, toAct(inputs), inputs, context).then(done, () => done('BadCommunicationError'));
    }) as never);
  }

  #findAlarm({ object }: ISessionContext): string | null {
    for (const [id, condition] of this.#conditions)
      if (condition === (object as unknown) || condition.shelvingState === (object as unknown)) return id;
    return null;
  }

  async #act(alarm: string, act: Act, inputs: Inputs, context: ISessionContext): Promise<string> {
    const who = loginOf(context);
    if (who === null || !this.#operators.has(who)) return 'BadUserAccessDenied';
    const [event, comment] = inputs;
    if (act.act === 'acknowledge' || act.act === 'confirm') {
      // an answer to an event that is no longer the newest might be meant for another activation
      const branch = this.#conditions.get(alarm)?.findBranchForEventId((event?.value ?? null) as never);
      if (branch === undefined || branch === null) return 'BadEventIdUnknown';
    }
    const note = (comment?.value as { text?: string | null } | undefined)?.text ?? '';
    const wish: OperateWish = { do: 'operate', alarm, who, note: note.slice(0, 500), ...act };
    const { refusal } = (await this.#link.ask(wish)) as OperateAnswer;
    return refusal === null ? 'Good' : (REFUSALS[refusal] ?? 'BadInvalidState');
  }

  #answer(word: string): { statusCode: unknown; outputArguments: [] } {
    return { statusCode: this.#parts.status.StatusCodes[word as StatusWord], outputArguments: [] };
  }

  #shelveOnce(): Act {
    return { act: 'shelve', forMs: this.#settings.shelfMaxMs, once: true };
  }
}

type Inputs = readonly { readonly value: unknown }[];

function plainAct(act: 'acknowledge' | 'confirm' | 'unshelve'): Act {
  return { act, forMs: 0, once: false };
}

/** Its one argument is a duration in ms. */
function readShelf([duration]: Inputs): Act {
  const forMs = Number(duration?.value ?? 0);
  return { act: 'shelve', forMs: Number.isFinite(forMs) ? Math.round(forMs) : 0, once: false };
}

/** The login of the session; null: it has none, so it may not act. A certificate is no login here. */
function loginOf(context: ISessionContext): string | null {
  const token = context.session?.userIdentityToken as { userName?: unknown } | undefined;
  return typeof token?.userName === 'string' && token.userName !== '' ? token.userName : null;
}
