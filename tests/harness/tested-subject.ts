/** A subject with an episode and a dynamometer, and visits to push: small recordings, everything else as in the example. */
import { expect } from 'vitest'
import { sampleMovement, toCsv, exampleSession, type LooseDocument } from '../fixtures/example-session.ts'
import type { Answer, FreshClinic, TestService } from './clinic.ts'
import { createSubject, dynamometerBody, episodeBody, idOf } from './samples.ts'

export interface TestedSubject {
  readonly subjectId: string
  readonly episodeId: string
  readonly dynamometerId: string
  /** Four sets: both limbs recorded at 60 deg/s and reported at 180 deg/s. Each call is another visit. */
  readonly visit: (day: string, change?: (document: LooseDocument) => void) => LooseDocument
  /** Pushes it, and says what came instead of a 201. */
  readonly push: (document: LooseDocument) => Promise<Answer<LooseDocument>>
}

/** Each a fifth of the example's samples, for speed. */
const SAMPLE_RATE_HZ = 200

export async function testedSubject(
  service: TestService,
  clinic: FreshClinic,
  number = 'RB-20417',
): Promise<TestedSubject> {
  const api = service.api(clinic.tokens.integration)
  const subjectId = await createSubject(api, number)
  const episodeId = idOf(await api.post('/v1/episodes', episodeBody(subjectId, `C-${number}`)))
  const owner = service.api(clinic.tokens.owner)
  const dynamometerId = idOf(await owner.post('/v1/dynamometers', dynamometerBody(`lab of ${number}`)))
  let visits = 0
  return {
    subjectId,
    episodeId,
    dynamometerId,
    visit: (day, change = () => {}) => {
      const seed = ++visits
      const document = exampleSession()
      document.externalId.value = `V-${number}-${seed}`
      document.subject = { id: subjectId }
      document.episode = { id: episodeId }
      document.dynamometer = { id: dynamometerId }
      delete document.operator
      document.startedAt = `${day}T09:05:00+01:00`
      document.endedAt = `${day}T09:52:00+01:00`
      delete document.functionalResults
      for (const setup of document.setups) setup.settings = { backrestAngle: { value: 85, unit: 'deg' } }
      const left = sampleMovement({ extensionNm: 171, seed, sampleRateHz: SAMPLE_RATE_HZ })
      const right = sampleMovement({ extensionNm: 159, seed: seed + 1000, sampleRateHz: SAMPLE_RATE_HZ })
      document.sets[0].recording.csv = toCsv(left)
      document.sets[2].recording.sampleRate.value = SAMPLE_RATE_HZ
      const [torque, angle, velocity] = document.sets[2].recording.channels
      torque.values = right.torqueNm
      angle.values = right.angleDeg
      velocity.values = right.velocityDegS
      change(document)
      return document
    },
    push: async (document) => {
      const answer = await api.post('/v1/sessions', document)
      expect(answer.status, answer.text).toBe(201)
      return answer
    },
  }
}
