import type { StationAddress } from '../contract/rig.ts';

/** What is known of a node that was just let in. */
export interface EnrolledNode {
  nodeId: string;
  label: string;
  password: string;
}

/** PEM and other texts as C string literals, a line each. */
function literal(text: string): string {
  return text
    .trimEnd()
    .split(/\r?\n/)
    .map((line) => `  "${line.replace(/["\\]/g, '\\$&')}\\n"`)
    .join(' \\\n');
}

/**
 * C header with all that a node must know to connect; the names are those of the board example. The label is a
 * person's text: it stays inside the comment.
 */
export function settingsHeader({ nodeId, label, password }: EnrolledNode, station: StationAddress): string {
  const { hosts, port, tls, certificateSha256, certificatePem, thisComputerOnly } = station.mqtt;
  const comment = label.replace(/[^\x20-\x7e]/g, '?').replace(/\*\/|\/\*/g, '--');
  const lines = [
    `/* Settings of the node '${comment}'. They hold its password: keep this file to yourself. */`,
    '#ifndef NODE_SETTINGS_H',
    '#define NODE_SETTINGS_H',
    `#define NODE_ID 0x${nodeId}ull /* MQTT user name: ${nodeId} */`,
    `#define SITE "${station.site}"`,
    ...(thisComputerOnly
      ? [
          '/* The station listens on its own computer only: start it with --listen to be reached from a board. */',
        ]
      : []),
    ...(hosts.length > 1 ? [`/* The station also has: ${hosts.slice(1).join(', ')} */`] : []),
    `#define BROKER "${hosts[0] ?? '127.0.0.1'}"`,
    `#define BROKER_PORT ${port}`,
    `#define BROKER_TLS ${tls ? 1 : 0}`,
    `#define TOKEN "${password}"`,
    ...(tls && certificatePem !== null
      ? [
          `/* Trust this certificate and no other. SHA-256 of its DER form: ${certificateSha256} */`,
          `#define BROKER_CERTIFICATE \\\n${literal(certificatePem)}`,
        ]
      : []),
    '#endif',
  ];
  return `${lines.join('\n')}\n`;
}
