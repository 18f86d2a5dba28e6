/** The process of the OPC UA server: beats in, nodes and conditions out. */
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { OPCUAServer } from 'node-opcua-server';
import { explainListening } from './listen-fault.js';
import { OpcuaAlarms } from './opcua-alarms.js';
import { certificateFolder } from './opcua-certificates.js';
import { installHistory } from './opcua-history.js';
import { loadOpcuaParts, type OpcuaParts } from './opcua-package.js';
import { buildOptions } from './opcua-options.js';
import { sealBelow } from './opcua-seal.js';
import type { OpcuaSettings } from './opcua-settings.js';
import { namespaceOf, OpcuaSpace } from './opcua-space.js';
import { Picture } from './picture.js';
import { GatewayLink, type ServerLink } from './server-link.js';
import type { Beat } from './server-protocol.js';

const REFRESH_MS = 1_000;
const SHUTDOWN_MS = 500;

class OpcuaProcess {
  #server: OPCUAServer | null = null;
  #picture: Picture | null = null;
  #nodes: OpcuaSpace | null = null;
  #alarms: OpcuaAlarms | null = null;
  #rejected = 0;

  async start(settings: OpcuaSettings, link: ServerLink): Promise<{ port: number; says: string }> {
    const parts = loadOpcuaParts();
    const server = await this.#open(parts, settings, link);
    this.#build(parts, server, settings, link);
    try {
      await server.start();
    } catch (error) {
      throw explainListening(error, 'opcua.listen', settings);
    }
    setInterval(() => this.#refresh(link), REFRESH_MS);
    this.#server = server;
    const { port } = server.endpoints[0]!;
    const host = settings.host.includes(':') ? `[${settings.host}]` : settings.host;
    return {
      port,
      says: `OPC UA on opc.tcp://${host}:${port}, namespace ${namespaceOf(settings.plant.site)}`,
    };
  }

  beat({ isReady, isLoaded, revision, news }: Beat, link: ServerLink): void {
    if (this.#picture === null) return;
    this.#picture.take(news);
    this.#picture.feed = { beatAt: link.clock.beatAt(), isReady, isLoaded, revision };
    this.#refresh(link);
    this.#alarms?.take(news.alarms);
  }

  #refresh({ clock }: ServerLink): void {
    if (this.#picture === null) return;
    this.#picture.feed = { ...this.#picture.feed, beatAt: clock.beatAt() };
    this.#nodes?.refresh(clock.now());
  }

  figures(): Record<string, number> {
    if (this.#server === null) return {};
    const { currentSessionCount, currentSubscriptionCount } = this.#server.engine;
    return {
      clients: currentSessionCount,
      subscriptions: currentSubscriptionCount,
      rejected: this.#rejected,
    };
  }

  async stop(): Promise<void> {
    await this.#server?.shutdown(SHUTDOWN_MS);
  }

  async #open(parts: OpcuaParts, settings: OpcuaSettings, link: ServerLink): Promise<OPCUAServer> {
    const rootFolder = certificateFolder(settings.dataDir);
    const users = join(settings.dataDir, 'opcua', 'user-pki');
    for (const folder of [rootFolder, users]) mkdirSync(folder, { recursive: true, mode: 0o700 });
    const open = async (folder: string) => {
      const store = new parts.certificates.OPCUACertificateManager({
        ...{ rootFolder: folder, automaticallyAcceptUnknownCertificate: false },
      });
      await store.initialize();
      return store;
    };
    const stores = { clients: await open(rootFolder), users: await open(users) };
    const server = new parts.server.OPCUAServer(buildOptions(parts, settings, stores));
    server.on('connectionRefused', () => link.say('warn', 'a connection was refused: there are too many'));
    await server.initialize();
    return server;
  }

  #build(parts: OpcuaParts, server: OPCUAServer, settings: OpcuaSettings, link: ServerLink): void {
    const { addressSpace } = server.engine;
    if (addressSpace === null) throw new Error('the address space was not built: start the gateway again');
    addressSpace.installAlarmsAndConditionsService();
    const space = addressSpace.registerNamespace(namespaceOf(settings.plant.site));
    this.#picture = new Picture(settings.plant);
    this.#nodes = new OpcuaSpace(parts, space, settings, this.#picture);
    for (const [sensor, variable] of this.#nodes.rates)
      installHistory(parts, addressSpace, variable, sensor, link);
    sealBelow(parts, this.#nodes.root);
    this.#alarms = new OpcuaAlarms(parts, space, settings, this.#nodes, link);
    this.#refresh(link);
  }
}

const own = new OpcuaProcess();
new GatewayLink<OpcuaSettings>({
  start: (settings, link) => own.start(settings, link),
  beat: (beat, link) => own.beat(beat, link),
  figures: () => own.figures(),
  stop: () => own.stop(),
});
