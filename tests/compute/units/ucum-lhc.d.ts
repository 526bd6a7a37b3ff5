/** The part of the UCUM library the tests use; it ships no types. */
declare module '@lhncbc/ucum-lhc' {
  export class UcumLhcUtils {
    static getInstance(): UcumLhcUtils
    validateUnitString(unit: string): { status: string }
    convertUnitTo(from: string, value: number, to: string): { status: string; toVal: number | null }
  }
}
