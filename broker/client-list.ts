import type { Client } from 'aedes';
import type { Principal } from './access.ts';

export interface ConnectedClient {
  clientId: string;
  principal: Principal;
  address: string;
  connectedSinceMs: number;
}

/** Who is connected, and as whom. */
export class ClientList {
  readonly #known = new WeakMap<Client, ConnectedClient>();
  readonly #connected = new Map<string, Client>();

  /** Notes as whom a client has logged in. */
  identify(client: Client, who: ConnectedClient): void {
    this.#known.set(client, who);
  }

  get(client: Client): ConnectedClient | undefined {
    return this.#known.get(client);
  }

  isConnected(brokerClientId: string): boolean {
    return this.#connected.has(brokerClientId);
  }

  connected(client: Client): void {
    this.#connected.set(client.id, client);
  }

  disconnected(client: Client): void {
    if (this.#connected.get(client.id) === client) this.#connected.delete(client.id);
  }

  ofNode(nodeId: string): Client[] {
    return [...this.#connected.values()].filter((client) => {
      const principal = this.#known.get(client)?.principal;
      return principal?.role === 'node' && principal.nodeId === nodeId;
    });
  }

  all(): ConnectedClient[] {
    return [...this.#connected.values()].flatMap((client) => this.#known.get(client) ?? []);
  }

  nameOf(principal: Principal): string {
    return principal.role === 'node' ? `node ${principal.nodeId}` : `service ${principal.name}`;
  }
}
