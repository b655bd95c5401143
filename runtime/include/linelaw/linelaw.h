/* Linelaw's runtime for other programs: judge an episode of line care by a compiled policy, as it happens.
 *
 * Findings judge documentation, not patients. What a program does with them is for the facility's policy,
 * local regulation and licensed clinical judgement to say.
 *
 * Handles are opaque. A policy handle never changes once it is read and may be used by any number of threads
 * at once; an episode handle is for one thread at a time. A policy may be freed before its episodes.
 *
 * Every function that can fail takes `linelaw_error** error`, which may be NULL; on failure it answers NULL
 * or 0 and, if `error` is given, sets *error to a handle that the caller frees. On success *error is left
 * alone. No exception ever leaves this library.
 *
 * Texts are UTF-8. A text that a function answers belongs to the handle it was asked of; a policy's lives as
 * long as the policy, an episode's until the next call with that episode. Texts that are given in may be
 * freed once the call returns. Instants are RFC 3339, as in "2026-03-02T10:15:00-04:00". The locale of the
 * program changes nothing: numbers have a decimal point, and letters are those of UTF-8.
 */
#ifndef LINELAW_LINELAW_H
#define LINELAW_LINELAW_H

#include <stddef.h>
#include <stdint.h>

#if defined(__GNUC__)
#define LINELAW_API __attribute__((visibility("default")))
#else
#define LINELAW_API
#endif

#ifdef __cplusplus
extern "C" {
#endif

typedef struct linelaw_policy linelaw_policy;
typedef struct linelaw_episode linelaw_episode;
typedef struct linelaw_error linelaw_error;

/* "0.1.0" */
LINELAW_API const char* linelaw_version(void);

/* ---- errors */

/* "policy.hash", "record.instant", "value.range" …: what `linelaw explain` and docs/records.md list. */
LINELAW_API const char* linelaw_error_code(const linelaw_error* error);
/* A sentence that says where, what and how to mend it. Never repeats a value. */
LINELAW_API const char* linelaw_error_message(const linelaw_error* error);
/* The place as a JSON pointer into the record, and in bytes; "" and 0 where there is none. */
LINELAW_API const char* linelaw_error_pointer(const linelaw_error* error);
LINELAW_API uint64_t linelaw_error_offset(const linelaw_error* error);
LINELAW_API void linelaw_error_free(linelaw_error* error);

/* ---- policies */

/* Reads what `linelaw compile` wrote. */
LINELAW_API linelaw_policy* linelaw_policy_read(const char* json, size_t length, linelaw_error** error);
LINELAW_API void linelaw_policy_free(linelaw_policy* policy);
LINELAW_API const char* linelaw_policy_title(const linelaw_policy* policy);
LINELAW_API const char* linelaw_policy_edition(const linelaw_policy* policy);
LINELAW_API const char* linelaw_policy_hash(const linelaw_policy* policy);

/* ---- episodes */

/* Begins an episode from a record (docs/records.md): its line, its patient, and the events so far, if any. */
LINELAW_API linelaw_episode* linelaw_episode_begin(const linelaw_policy* policy, const char* record,
                                                   size_t length, linelaw_error** error);
LINELAW_API void linelaw_episode_free(linelaw_episode* episode);

/* Adds one event, as it would stand in the record's "events"; in any order of instants. A "removal" also sets
 * the line's removed_at. An event that would spoil the record is not added, and the episode stays as it was.
 * Answers 1, or 0 on failure. */
LINELAW_API int linelaw_episode_add(linelaw_episode* episode, const char* event, size_t length,
                                    linelaw_error** error);

/* The findings so far, one JSON object a line (docs/findings.md), as of the instant `now`, or of the last
 * event where `now` is NULL or earlier. With `all` zero, only those that count against. */
LINELAW_API const char* linelaw_episode_findings(linelaw_episode* episode, const char* now, int all,
                                                 linelaw_error** error);

/* What is due as of `now`, the earliest limit first: findings whose outcome is `pending`, or `missed` where
 * the limit has passed and the answer is still awaited. */
LINELAW_API const char* linelaw_episode_due(linelaw_episode* episode, const char* now, linelaw_error** error);

/* What the event would change if it were added: the findings, as of its instant, that would be new or would
 * have another outcome. The episode stays as it was. */
LINELAW_API const char* linelaw_episode_would_change(linelaw_episode* episode, const char* event,
                                                     size_t length, linelaw_error** error);

/* What of the record is not used, one JSON object a line: values set aside ("code", "pointer", "offset",
 * "reason"), and keys and event types that the vocabulary does not know ("unknown", "name"). */
LINELAW_API const char* linelaw_episode_remarks(linelaw_episode* episode, linelaw_error** error);

#ifdef __cplusplus
}
#endif

#endif
