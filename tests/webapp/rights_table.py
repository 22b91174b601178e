"""Who gets what answer from which address about whose record: the table that test_who_sees_what.py asks.

A cell is the answer's status, or for something pushed its verdict or the code of it. `+` says that the number
of the client in question (Ann's) stands in the answer, `!` that something of the record does. `own` is what
belongs to Ann or her organisation, `foreign` another organisation's, `missing` nobody's. A route without a
row fails a test. (In the audit a lead of others finds that one of their own people was refused a client, and
not which. 422: nobody withdraws the device they are using.) Cases 1 to 9 and 33 to 35 stand where they are
named.
"""

from dataclasses import dataclass

WHO = {
    "nobody": None, "therapist": "ann", "other": "ben", "ended": "dan", "lead": "lea",
    "lead of others": "lou", "administrator": "otto", "closed": "cass", "elsewhere": "cleo",
    "withdrawn": "wim",
}  # fmt: skip
# Columns: nobody, therapist, other, ended, lead, lead of others, administrator, closed, elsewhere, withdrawn
TABLE = """
GET  / -                                           302   302   302   302   302   302   302   302   302   302
GET  /app/ -                                       200   200   200   200   200   200   200   200   200   200
GET  /app/<path> own                               200   200   200   200   200   200   200   200   200   200
GET  /offline -                                    200   200   200   200   200   200   200   200   200   200
GET  /built/<name> missing                         404   404   404   404   404   404   404   404   404   404
GET  /icons/<name> missing                         404   404   404   404   404   404   404   404   404   404
GET  /manifest.webmanifest -                       200   200   200   200   200   200   200   200   200   200
GET  /service_worker.js -                          200   200   200   200   200   200   200   200   200   200
GET  /healthz -                                    200   200   200   200   200   200   200   200   200   200
GET  /healthz/reminders -                          503   503   503   503   503   503   503   503   503   503
GET  /metrics -                                    404   404   404   404   404   404   404   404   404   404
GET  /calendar/<token>.ics missing                 404   404   404   404   404   404   404   404   404   404
POST /reminders/again missing                      404   404   404   404   404   404   404   404   404   404
GET  /forms/<measure_id> missing                   404   404   404   404   404   404   404   404   404   404
GET  /api/v1/openapi.json -                        200   200   200   200   200   200   200   200   200   200
GET  /sign-in -                                    200   200   200   200   200   200   200   200   200   200
POST /sign-in -                                    401   401   401   401   401   401   401   401   401   401
GET  /api/v1/session -                             401   200   200   200   200   200   200   401   200   200
POST /sign-in/passkey/options -                    200   200   200   200   200   200   200   200   200   200
POST /sign-in/passkey -                            401   401   401   401   401   401   401   401   401   401
GET  /sign-in/new-password -                       200   200   200   200   200   200   200   200   200   200
POST /sign-in/new-password -                       422   422   422   422   422   422   422   422   422   422
GET  /account -                                    401   200   200   200   200   200   200   401   200   403
POST /account/passkey/options -                    401   200   200   200   200   200   200   401   200   403
POST /account own                                  401   404   404   404   404   404   404   401   404   403
POST /account foreign                              401   404   404   404   404   404   404   401   422   403
POST /account missing                              401   404   404   404   404   404   404   401   404   403

GET  /api/v1/clients -                             401   200+  200   200   200+  200   200   401   200   200
GET  /api/v1/clients ?own                          401   200+  200   200   200+  200   200   401   200   200
GET  /api/v1/clients ?foreign                      401   200+  200   200   200+  200   200   401   200   200
GET  .../clients/<client>/entries own              401   200+! 404   404   200+! 404   404   401   404   404
GET  .../clients/<client>/entries foreign          401   404   404   404   404   404   404   401   200   404
GET  .../clients/<client>/entries missing          401   404   404   404   404   404   404   401   404   404

POST /api/v1/sync pull                             401   200+! 200   200   200+! 200   200   401   200   200
POST /api/v1/sync fill:own                         401   200+! 200   200   200+! 200   200   401   200   200
POST /api/v1/sync fill:foreign                     401   200+  200   200   200+  200   200   401   200   200
POST /api/v1/sync fill:missing                     401   200+  200   200   200+  200   200   401   200   200
POST /api/v1/sync push:own                         401   taken none  none  reads none  none  401   none  aside
POST /api/v1/sync push:foreign                     401   none  none  none  none  none  none  401   taken aside
POST /api/v1/sync push:missing                     401   none  none  none  none  none  none  401   none  aside
POST /api/v1/sync push:earlier                     401   taken none  taken reads none  none  401   none  aside
POST /api/v1/sync author:own                       401   wrong wrong wrong wrong wrong wrong 401   wrong aside
POST /api/v1/sync author:missing                   401   wrong wrong wrong wrong wrong wrong 401   wrong aside

GET  /office/ -                                    401   403   403   403   403   403   302   401   403   403
GET  /office/<page> people                         401   403   403   403   403   403   200   401   403   403
GET  /office/<page> teams                          401   403   403   403   403   403   200+  401   403   403
GET  /office/<page> devices                        401   403   403   403   403   403   200   401   403   403
GET  /office/<page> reassessment                   401   403   403   403   403   403   200   401   403   403
POST /office/<page> own                            401   403   403   403   403   403   303   401   403   403
POST /office/<page> foreign                        401   403   403   403   403   403   404   401   403   403
POST /office/<page> missing                        401   403   403   403   403   403   404   401   403   403
GET  .../office/people -                           401   403   403   403   403   403   200   401   403   403
GET  .../office/teams -                            401   403   403   403   403   403   200   401   403   403
GET  .../office/devices -                          401   403   403   403   403   403   200   401   403   403
GET  .../office/people/<person>/caseload own       401   403   403   403   403   403   200+  401   403   403
GET  .../office/people/<person>/caseload foreign   401   403   403   403   403   403   404   401   403   403
GET  .../office/people/<person>/caseload missing   401   403   403   403   403   403   404   401   403   403
POST .../office/people/make -                      401   403   403   403   403   403   200   401   403   403
POST .../office/people/close spare                 401   403   403   403   403   403   200   401   403   403
POST .../office/people/close foreign               401   403   403   403   403   403   404   401   403   403
POST .../office/people/close missing               401   403   403   403   403   403   404   401   403   403
POST .../office/people/reopen spare                401   403   403   403   403   403   200   401   403   403
POST .../office/people/reopen foreign              401   403   403   403   403   403   404   401   403   403
POST .../office/people/reopen missing              401   403   403   403   403   403   404   401   403   403
POST .../office/people/sign-out spare              401   403   403   403   403   403   200   401   403   403
POST .../office/people/sign-out foreign            401   403   403   403   403   403   404   401   403   403
POST .../office/people/sign-out missing            401   403   403   403   403   403   404   401   403   403
POST .../office/people/reset-link spare            401   403   403   403   403   403   200   401   403   403
POST .../office/people/reset-link foreign          401   403   403   403   403   403   404   401   403   403
POST .../office/people/reset-link missing          401   403   403   403   403   403   404   401   403   403
POST .../office/teams/make -                       401   403   403   403   403   403   200   401   403   403
POST .../office/teams/put spare                    401   403   403   403   403   403   200   401   403   403
POST .../office/teams/put foreign                  401   403   403   403   403   403   404   401   403   403
POST .../office/teams/put missing                  401   403   403   403   403   403   404   401   403   403
POST .../office/teams/take spare                   401   403   403   403   403   403   200   401   403   403
POST .../office/teams/take foreign                 401   403   403   403   403   403   404   401   403   403
POST .../office/teams/take missing                 401   403   403   403   403   403   404   401   403   403
POST .../office/caseloads/put spare                401   403   403   403   403   403   200   401   403   403
POST .../office/caseloads/put foreign              401   403   403   403   403   403   404   401   403   403
POST .../office/caseloads/put missing              401   403   403   403   403   403   404   401   403   403
POST .../office/caseloads/take spare               401   403   403   403   403   403   200   401   403   403
POST .../office/caseloads/take foreign             401   403   403   403   403   403   404   401   403   403
POST .../office/caseloads/take missing             401   403   403   403   403   403   404   401   403   403
POST .../office/devices/withdraw spare             401   403   403   403   403   403   200   401   403   403
POST .../office/devices/withdraw foreign           401   403   403   403   403   403   404   401   403   403
POST .../office/devices/withdraw missing           401   403   403   403   403   403   404   401   403   403
POST .../office/devices/allow spare                401   403   403   403   403   403   200   401   403   403
POST .../office/devices/allow foreign              401   403   403   403   403   403   404   401   403   403
POST .../office/devices/allow missing              401   403   403   403   403   403   404   401   403   403
POST .../office/reassessment/use -                 401   403   403   403   403   403   200   401   403   403
POST .../office/reassessment/leave -               401   403   403   403   403   403   200   401   403   403
POST .../office/reassessment/make -                401   403   403   403   403   403   200   401   403   403
POST .../office/reassessment/remove -              401   403   403   403   403   403   404   401   403   403
POST .../office/calendar/set -                     401   403   403   403   403   403   200   401   403   403

POST /api/v1/sync device:own                       401   200   200   200   200   200   200   401   200   200
POST /api/v1/sync device:foreign                   401   200+! 200   200   200+! 200   200   401   200   200+!
POST /api/v1/sync device:missing                   401   200+! 200   200   200+! 200   200   401   200   200+!

GET  .../reminders -                               401   200   200   200   200   200   403   401   200   403
POST .../reminders/habits -                        401   200   200   200   200   200   403   401   200   403
POST .../reminders/subscribe -                     401   404   404   404   404   404   403   401   404   403
POST .../reminders/unsubscribe -                   401   200   200   200   200   200   403   401   200   403
POST .../reminders/calendar -                      401   200   200   200   200   200   403   401   200   403
POST .../reminders/calendar/end -                  401   200   200   200   200   200   403   401   200   403

GET  /handed-in -                                  401   403   403   403   200   200   200   401   403   403
GET  /handed-in/<device> own                       401   403   403   403   200! 404   200   401   403   403
GET  /handed-in/<device> foreign                   401   403   403   403   404  404   404   401   403   403
GET  /handed-in/<device> missing                   401   403   403   403   404  404   404   401   403   403
POST /handed-in foreign                            401   403   403   403   404   404   404   401   403   403
POST /handed-in missing                            401   403   403   403   404   404   404   401   403   403
POST /handed-in own                                401   403   403   403   303   404   303   401   403   403

GET  /api/v1/audit -                               401   403   403   403   200+  200   403   401   403   403
GET  /audit -                                      401   403   403   403   200+  200   403   401   403   403

GET  .../emergency-access -                        401   403   403   403   200+  200   403   401   403   403
POST .../emergency-access/<access>/seen own        401   403   403   403   200   404   403   401   403   403
POST .../emergency-access/<access>/seen missing    401   403   403   403   404   404   403   401   403   403
POST .../emergency-access missing                  401   404   404   404   404   404   403   401   404   403
POST .../emergency-access foreign                  401   404   404   404   404   404   403   401   200   403
POST .../emergency-access own                      401   200+  200+  200+  200+  200+  403   401   404   403
GET  .../clients/<client>/entries own              401   200+! 200+! 200+! 200+! 200+! 404   401   404   404

POST /sign-out -                                   302   302   302   302   302   302   302   302   302   302
"""
# How the table writes verdicts.
CODES = {
    "applied": "taken", "not_found": "none", "read_only": "reads", "device_revoked": "aside",
    "wrong_author": "wrong",
}  # fmt: skip


@dataclass
class Row:
    """One line of the table."""

    method: str
    rule: str
    about: str
    expected: list[str]

    @classmethod
    def read(cls, line: str) -> "Row":
        method, rule, about, *expected = line.split()
        assert len(expected) == len(WHO), line
        return cls(method, rule.replace("...", "/api/v1"), about, expected)


ROWS = [Row.read(line) for line in TABLE.splitlines() if line]
