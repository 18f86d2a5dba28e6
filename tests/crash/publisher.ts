/**
 * A device that never gives up: it numbers its readings, keeps those without an acknowledgement, and sends them again,
 * unchanged, after every reconnect. It writes down what was acknowledged, so that the test can hold the gateway to it.
 */
import { connect, type Socket } from 'node:net';
import { generate, parser, type Packet, type Parser } from 'mqtt-packet';

export interface PublisherWishes {
  readonly site: string;
  readonly motor: string;
  readonly port: number;
  readonly window: number;
  /** readings that were acknowledged already and are sent again after a reconnect, as a forgetful device does */
  readonly echo: number;
  /** least time between two readings; 0: as fast as acknowledgements come */
  readonly paceMs: number;
}

const RECONNECT_MS = 15;

/** Count of reading `seq`: grows by 1, 2 or 3. */
export function countOf(seq: number): number {
  const n = seq + 1;
  const rest = n % 3;
  return n + 3 * Math.floor(n / 3) + (rest === 2 ? 1 : 0);
}

export class Publisher {
  /** readings sent at least once: seq 0 to sent − 1 */
  sent = 0;
  /** readings acknowledged: seq 0 to acked − 1 */
  acked = 0;
  reconnects = 0;
  /** acknowledgements that came in another order than the readings, or twice on one connection */
  disorders = 0;
  private readonly times: number[] = [];
  private socket: Socket | null = null;
  private decoder: Parser = parser();
  private isReady = false;
  private isSending = true;
  private isOpen = true;
  /** seq of what is on its way on this connection, in order */
  private flying: number[] = [];
  private timer: NodeJS.Timeout | null = null;

  constructor(private readonly wishes: PublisherWishes) {
    this.reconnect();
  }

  get sensor(): string {
    return `${this.wishes.motor}/de`;
  }

  /** No new readings from now on; resolves when every one is acknowledged. */
  async finish(patienceMs: number): Promise<void> {
    this.isSending = false;
    const end = Date.now() + patienceMs;
    while (this.acked < this.sent || this.flying.length > 0) {
      if (Date.now() > end)
        throw new Error(`${this.sensor}: ${this.sent - this.acked} readings never acknowledged`);
      await new Promise((resolve) => setTimeout(resolve, 10));
    }
  }

  /** Goes away without a word. What is not acknowledged stays so. */
  close(): void {
    this.isOpen = false;
    if (this.timer !== null) clearTimeout(this.timer);
    this.socket?.destroy();
  }

  private reconnect(): void {
    if (!this.isOpen) return;
    if (this.timer !== null) clearTimeout(this.timer);
    this.timer = null;
    this.isReady = false;
    this.flying = [];
    this.decoder = parser();
    this.decoder.on('packet', (packet) => this.take(packet));
    const socket = connect({ port: this.wishes.port, host: '127.0.0.1', noDelay: true });
    this.socket = socket;
    socket.on('connect', () => socket.write(connectPacket(this.wishes.motor)));
    socket.on('data', (chunk) => this.decoder.parse(chunk));
    socket.on('error', () => undefined);
    socket.on('close', () => {
      if (this.socket !== socket || !this.isOpen) return;
      this.reconnects += 1;
      this.timer = setTimeout(() => {
        this.timer = null;
        this.reconnect();
      }, RECONNECT_MS);
    });
  }

  private take(packet: Packet): void {
    if (packet.cmd === 'connack') {
      this.isReady = true;
      this.sendDriveState();
      const from = Math.max(0, this.acked - this.wishes.echo);
      for (let seq = from; seq < this.sent; seq++) this.send(seq);
      this.fill();
    } else if (packet.cmd === 'puback' && packet.messageId !== DRIVE_ID) {
      const seq = this.flying.shift();
      if (seq === undefined || packet.messageId !== packetId(seq)) {
        this.disorders += 1;
        return;
      }
      if (seq === this.acked) this.acked += 1;
      this.fill();
    }
  }

  private fill(): void {
    if (!this.isReady || !this.isSending || this.flying.length >= this.wishes.window) return;
    if (this.wishes.paceMs > 0) {
      this.timer ??= setTimeout(() => {
        this.timer = null;
        this.sendNext();
        this.fill();
      }, this.wishes.paceMs);
      return;
    }
    while (this.flying.length < this.wishes.window) this.sendNext();
  }

  private sendNext(): void {
    if (!this.isReady || !this.isSending || this.flying.length >= this.wishes.window) return;
    const last = this.times.at(-1) ?? 0;
    this.times.push(Math.max(last, Date.now()));
    this.send(this.sent++);
  }

  private send(seq: number): void {
    this.flying.push(seq);
    const reading = {
      device: `SN-${this.wishes.motor}`,
      boot: 1,
      seq,
      count: countOf(seq),
      at: this.times[seq],
    };
    this.socket?.write(
      generate({
        cmd: 'publish',
        topic: `${this.wishes.site}/in/${this.wishes.motor}/de/reading`,
        payload: JSON.stringify(reading),
        qos: 1,
        dup: false,
        retain: false,
        messageId: packetId(seq),
      }),
    );
  }

  private sendDriveState(): void {
    const since = (this.times[0] ?? Date.now()) - 3_600_000;
    const state = { state: 'running', at: Date.now(), since };
    this.socket?.write(
      generate({
        cmd: 'publish',
        topic: `${this.wishes.site}/in/${this.wishes.motor}/drive/state`,
        payload: JSON.stringify(state),
        qos: 1,
        dup: false,
        retain: true,
        messageId: DRIVE_ID,
      }),
    );
  }
}

const DRIVE_ID = 65_000;

function packetId(seq: number): number {
  return (seq % 60_000) + 1;
}

function connectPacket(motor: string): Buffer {
  return generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clean: true,
    clientId: `device-${motor}`,
    keepalive: 60,
  });
}
