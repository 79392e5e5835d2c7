import type { Database } from 'better-sqlite3';
import { RecordError } from './record-error.ts';
import { hashSecret, newSecret } from './secrets.ts';

const MOST_NODES = 10_000;

interface NodeRecord {
  nodeId: string;
  label: string;
  /** When its present credentials were made. */
  createdMs: number;
  revokedMs: number | null;
}

export interface Nodes {
  /** Nodes that may connect, by label. */
  list(): NodeRecord[];
  /** Null for an unknown node; revoked ones are found. */
  find(nodeId: string): NodeRecord | null;
  /**
   * Lets a node in and returns its password, which is kept only as a hash. A revoked node is let in again with
   * a new password. Throws `NODE_EXISTS`.
   */
  add(nodeId: string, label: string): string;
  /** Notes a node that is only known from elsewhere: it is not let in until it is added. Known ones stay as they are. */
  addUnadmitted(nodeId: string, label: string): void;
  /** From now on the node's password is refused; its readings and mounts stay. Throws `NODE_NOT_FOUND`. */
  revoke(nodeId: string): void;
}

export function createNodes(db: Database, now: () => number): Nodes {
  const columns = 'id AS nodeId, label, created_ms AS createdMs, revoked_ms AS revokedMs';
  const list = db.prepare(`SELECT ${columns} FROM nodes WHERE revoked_ms IS NULL ORDER BY label, id`);
  const find = db.prepare(`SELECT ${columns} FROM nodes WHERE id = ?`);
  const count = db.prepare('SELECT count(*) FROM nodes').pluck();
  const upsert = db.prepare(
    `INSERT INTO nodes (id, label, credential_hash, created_ms) VALUES (?, ?, ?, ?)
     ON CONFLICT (id) DO UPDATE SET
       label = excluded.label, credential_hash = excluded.credential_hash, created_ms = excluded.created_ms,
       revoked_ms = NULL`,
  );
  const revoke = db.prepare('UPDATE nodes SET revoked_ms = ? WHERE id = ? AND revoked_ms IS NULL');

  const insertUnadmitted = db.prepare(
    `INSERT INTO nodes (id, label, credential_hash, created_ms, revoked_ms) VALUES (?, ?, ?, ?, ?)
     ON CONFLICT (id) DO NOTHING`,
  );

  const add = db.transaction((nodeId: string, label: string): string => {
    const known = find.get(nodeId) as NodeRecord | undefined;
    if (known !== undefined && known.revokedMs === null) throw new RecordError('NODE_EXISTS');
    if ((count.get() as number) >= MOST_NODES) throw new RecordError('TOO_MANY_RECORDS');
    const password = newSecret(16);
    upsert.run(nodeId, label.trim(), hashSecret(password), now());
    return password;
  });

  return {
    list: () => list.all() as NodeRecord[],
    find: (nodeId) => (find.get(nodeId) as NodeRecord | undefined) ?? null,
    add: (nodeId, label) => add.immediate(nodeId, label),
    addUnadmitted(nodeId, label) {
      if ((count.get() as number) >= MOST_NODES) throw new RecordError('TOO_MANY_RECORDS');
      insertUnadmitted.run(nodeId, label.trim(), hashSecret(newSecret(16)), now(), now());
    },
    revoke(nodeId) {
      if (revoke.run(now(), nodeId).changes === 0) throw new RecordError('NODE_NOT_FOUND');
    },
  };
}
