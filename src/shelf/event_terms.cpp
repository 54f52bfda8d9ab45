#include "glassine/shelf/event.h"

#include <array>

namespace glassine::shelf {

namespace {

constexpr std::array terms{
    EventTerm{"accession", "acc"},
    EventTerm{"appraisal", "app"},
    EventTerm{"capture", "cap"},
    EventTerm{"compiling", "cop"},
    EventTerm{"compression", "com"},
    EventTerm{"creation", "cre"},
    EventTerm{"deaccession", "dea"},
    EventTerm{"decompression", "dec"},
    EventTerm{"decryption", "der"},
    EventTerm{"deletion", "del"},
    EventTerm{"digital signature generation", "dsg"},
    EventTerm{"digital signature validation", "dig"},
    EventTerm{"displaying", "dsp"},
    EventTerm{"dissemination", "dis"},
    EventTerm{"encryption", "enc"},
    EventTerm{"execution", "exe"},
    EventTerm{"exporting", "exp"},
    EventTerm{"extraction", "ext"},
    EventTerm{"filename change", "fil"},
    EventTerm{"fixity check", "fix"},
    EventTerm{"forensic feature analysis", "ffa"},
    EventTerm{"format identification", "for"},
    EventTerm{"imaging", "ima"},
    EventTerm{"information package creation", "ipc"},
    EventTerm{"information package merging", "ipm"},
    EventTerm{"information package splitting", "ips"},
    EventTerm{"ingestion", "ing"},
    EventTerm{"ingestion end", "ine"},
    EventTerm{"ingestion start", "ins"},
    EventTerm{"interpreting", "int"},
    EventTerm{"message digest calculation", "mes"},
    EventTerm{"metadata extraction", "mee"},
    EventTerm{"metadata modification", "mem"},
    EventTerm{"migration", "mig"},
    EventTerm{"modification", "mod"},
    EventTerm{"normalization", "nor"},
    EventTerm{"packing", "pac"},
    EventTerm{"policy assignment", "poa"},
    EventTerm{"printing", "prt"},
    EventTerm{"quarantine", "qua"},
    EventTerm{"recovery", "rec"},
    EventTerm{"redaction", "red"},
    EventTerm{"refreshment", "ref"},
    EventTerm{"rendering", "ren"},
    EventTerm{"replication", "rep"},
    EventTerm{"transfer", "tra"},
    EventTerm{"unpacking", "unp"},
    EventTerm{"unquarantine", "unq"},
    EventTerm{"validation", "val"},
    EventTerm{"virus check", "vir"},
};

}  // namespace

std::span<const EventTerm> event_terms() {
    return terms;
}

}  // namespace glassine::shelf
