// Each line is a delta by the schema, and so is the whole tree that it makes. What is wrong must be found wrong.
const fs = require('fs')
const schema = require('@signalk/signalk-schema')

const lines = fs.readFileSync(process.argv[2], 'utf8').trim().split('\n').map(JSON.parse)
let wrong = 0
const say = (line, what, errors) => {
  wrong += 1
  console.log(`${JSON.stringify(line)}\n  ${what}: ${JSON.stringify(errors)}`)
}

// A tree with the values as the schemas have them: objects that describe a value hold it under `value`.
const tree = (delta) => {
  const self = 'urn:mrn:signalk:uuid:c0d79334-4e25-4245-8892-54e8ccc8021d'
  const vessel = { uuid: self }
  for (const update of delta.updates) {
    for (const { path, value } of update.values) {
      if (value === null) continue
      let place = vessel
      for (const part of path.split('.')) place = place[part] = place[part] || {}
      Object.assign(place, { value, timestamp: update.timestamp || '2026-06-02T20:02:00.000Z', $source: 'nightrode' })
    }
  }
  return { version: '1.7.0', self: `vessels.${self}`, vessels: { [self]: vessel }, sources: {} }
}

for (const line of lines) {
  const delta = schema.validateDelta(line)
  if (!delta.valid) say(line, 'no delta', delta.errors)
  const full = schema.validateFull(tree(line))
  if (!full.valid) say(line, 'no tree', full.errors)
}
for (const spoil of [
  (d) => { d.updates[0].values[0].value.state = 'dragging' },
  (d) => { delete d.updates[0].values[0].value.message },
  (d) => { d.updates[0].values[1].value = { latitude: 1 } },
  (d) => { d.updates[0].values[2].value = 'far' },
]) {
  const line = JSON.parse(JSON.stringify(lines[2]))
  spoil(line)
  if (schema.validateFull(tree(line)).valid) say(line, 'spoiled, and not found so', [])
}
console.log(`${lines.length} deltas held against the schemas, 4 spoiled ones, ${wrong} wrong`)
process.exit(wrong ? 1 : 0)
