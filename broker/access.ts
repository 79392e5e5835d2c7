/** Who may publish and subscribe where. Pure. */
import {
  alertTopic,
  brokerTopic,
  collectorTopic,
  healthTopic,
  liveTopic,
  nodeTopic,
  parseNodeTopic,
  readingTopic,
  tapTopic,
  toNodeTopic,
  vehicleTopic,
  watchTopic,
} from '../firmware-protocol/index.ts';

/** Who a client is, once its password was checked. Service accounts are the station's own parts. */
export type Principal = { role: 'node'; nodeId: string } | { role: 'service'; name: string };

/** Checks a password. Null: unknown name or wrong password. */
export interface CredentialSource {
  verify(username: string, password: Buffer): Promise<Principal | null>;
}

interface Rights {
  publish: string[];
  subscribe: string[];
}

function rightsOf(principal: Principal, site: string): Rights {
  if (principal.role === 'node') {
    return { publish: [], subscribe: [toNodeTopic(site, principal.nodeId, '+')] };
  }
  const readings = [
    readingTopic(site, '+', '+'),
    liveTopic(site, '+', '+'),
    healthTopic(site, '+'),
    tapTopic(site, '+'),
    collectorTopic(site),
  ];
  switch (principal.name) {
    case 'collector':
      return {
        publish: [...readings, toNodeTopic(site, '+', '+')],
        subscribe: [watchTopic(site, '+', '+')],
      };
    case 'dashboard':
      return {
        publish: [watchTopic(site, '+', '+'), toNodeTopic(site, '+', 'command'), alertTopic(site, '+')],
        subscribe: [
          ...readings,
          brokerTopic(site),
          nodeTopic({ site, nodeId: '+', kind: 'event' }),
          vehicleTopic(site, '+'),
        ],
      };
    case 'vehicle':
      // The adapter at a vehicle's diagnostic connector: says what it reads there, and hears nothing.
      return { publish: [vehicleTopic(site, '+')], subscribe: [] };
    case 'alerts':
      // Whoever is to be told by MQTT: hears alerts, and says nothing.
      return { publish: [], subscribe: [alertTopic(site, '+')] };
    default:
      return { publish: [], subscribe: [] };
  }
}

export function mayPublish(principal: Principal, topic: string, site: string): boolean {
  if (principal.role === 'node') {
    const parsed = parseNodeTopic(topic);
    return parsed !== null && parsed.site === site && parsed.nodeId === principal.nodeId;
  }
  return rightsOf(principal, site).publish.some((allowed) => covers(allowed, topic));
}

export function maySubscribe(principal: Principal, filter: string, site: string): boolean {
  return rightsOf(principal, site).subscribe.some((allowed) => covers(allowed, filter));
}

/** What a node would have to publish on, for the message that tells its owner. */
export function ownTopics(site: string, nodeId: string): string {
  return nodeTopic({ site, nodeId, kind: 'samples' }).replace(/samples$/, '...');
}

/** Whether every topic that `asked` matches is matched by `allowed`, which has `+` as its only wildcard. */
function covers(allowed: string, asked: string): boolean {
  const have = allowed.split('/');
  const want = asked.split('/');
  // '#' and '$share' are covered by nothing: shared subscriptions would be granted but never be served.
  return (
    have.length === want.length &&
    have.every((level, i) => level === want[i] || (level === '+' && want[i] !== '#' && want[i] !== ''))
  );
}
