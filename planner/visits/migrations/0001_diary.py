import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('patients', '0003_picture_files'),
        ('plans', '0003_accepted_plans'),
        ('practice', '0002_files_and_proposals'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Chair',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('name', models.CharField(max_length=40)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='chairs', to='practice.office')),
            ],
            options={
                'ordering': ('name', 'id'),
                'constraints': [models.UniqueConstraint(fields=('office', 'name'), name='chair_once'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='chair_named')],
            },
        ),
        migrations.CreateModel(
            name='BlockedTime',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('starts', models.DateTimeField()),
                ('ends', models.DateTimeField()),
                ('zone', models.CharField(max_length=60)),
                ('words', models.CharField(max_length=80)),
                ('at', models.DateTimeField()),
                ('taken_back_at', models.DateTimeField(null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinician', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('taken_back_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('chair', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='visits.chair')),
            ],
            options={
                'ordering': ('starts', 'id'),
                'indexes': [models.Index(fields=['office', 'starts'], name='blocked_time_by_day')],
                'constraints': [models.CheckConstraint(condition=models.Q(('ends__gt', models.F('starts'))), name='blocked_time_lasts'), models.CheckConstraint(condition=models.Q(('clinician__isnull', False), ('chair__isnull', False), _connector='OR'), name='blocked_time_of_somebody'), models.CheckConstraint(condition=models.Q(('words', ''), _negated=True), name='blocked_time_said')],
            },
        ),
        migrations.CreateModel(
            name='LaboratoryCase',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('visit_key', models.CharField(blank=True, max_length=80)),
                ('words', models.CharField(max_length=120)),
                ('laboratory', models.CharField(max_length=120)),
                ('teeth', models.JSONField(default=list)),
                ('label_name', models.CharField(max_length=200)),
                ('label_iso', models.CharField(blank=True, max_length=120)),
                ('label_universal', models.CharField(blank=True, max_length=120)),
                ('sketch', models.TextField(blank=True)),
                ('due', models.DateField(null=True)),
                ('state', models.CharField(choices=[('ordered', 'ordered'), ('sent', 'sent'), ('received', 'received'), ('label checked', 'label checked'), ('sent back', 'sent back'), ('not needed', 'not needed')], max_length=14)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.patient')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='laboratory_cases', to='plans.acceptedplan')),
            ],
            options={
                'ordering': ('due', 'id'),
                'indexes': [models.Index(fields=['office', 'state', 'due'], name='laboratory_by_state')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('words', ''), _negated=True), models.Q(('label_name', ''), _negated=True)), name='laboratory_case_said'), models.CheckConstraint(condition=models.Q(('state__in', ['ordered', 'sent', 'received', 'label checked', 'sent back', 'not needed'])), name='laboratory_state_known')],
            },
        ),
        migrations.CreateModel(
            name='LaboratoryMove',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('sequence', models.PositiveSmallIntegerField()),
                ('before', models.CharField(blank=True, max_length=14)),
                ('after', models.CharField(max_length=14)),
                ('due', models.DateField(null=True)),
                ('note', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('case', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='moves', to='visits.laboratorycase')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('case', 'sequence'),
                'constraints': [models.UniqueConstraint(fields=('case', 'sequence'), name='laboratory_move_once')],
            },
        ),
        migrations.CreateModel(
            name='Visit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('starts', models.DateTimeField()),
                ('ends', models.DateTimeField()),
                ('zone', models.CharField(max_length=60)),
                ('minutes', models.PositiveSmallIntegerField()),
                ('kind', models.CharField(choices=[('work', 'work'), ('review', 'review')], max_length=10)),
                ('key', models.CharField(blank=True, max_length=80)),
                ('words', models.CharField(max_length=200)),
                ('eight_in_ten', models.PositiveSmallIntegerField(null=True)),
                ('despite', models.TextField(blank=True)),
                ('state', models.CharField(choices=[('booked', 'booked'), ('kept', 'kept'), ('cancelled', 'cancelled'), ('no-show', 'no-show'), ('rescheduled', 'rescheduled')], max_length=12)),
                ('sequence', models.PositiveSmallIntegerField()),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('chair', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visits', to='visits.chair')),
                ('clinician', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visits', to=settings.AUTH_USER_MODEL)),
                ('follows', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='visits.visit')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visits', to='patients.patient')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visits', to='plans.acceptedplan')),
            ],
            options={
                'ordering': ('starts', 'id'),
                'indexes': [models.Index(fields=['office', 'starts'], name='visit_by_day'), models.Index(fields=['office', 'state', 'starts'], name='visit_by_state')],
                'constraints': [models.UniqueConstraint(fields=('plan', 'sequence'), name='visit_sequence_once'), models.CheckConstraint(condition=models.Q(('ends__gt', models.F('starts'))), name='visit_lasts'), models.CheckConstraint(condition=models.Q(('minutes__gte', 1), ('minutes__lte', 480)), name='visit_minutes_possible'), models.CheckConstraint(condition=models.Q(('state__in', ['booked', 'kept', 'cancelled', 'no-show', 'rescheduled'])), name='visit_state_known'), models.CheckConstraint(condition=models.Q(('kind__in', ('work', 'review'))), name='visit_kind_known'), models.CheckConstraint(condition=models.Q(('words', ''), _negated=True), name='visit_said')],
            },
        ),
        migrations.CreateModel(
            name='LateFee',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('code', models.CharField(max_length=12)),
                ('words', models.CharField(max_length=120)),
                ('price_list_version', models.PositiveIntegerField()),
                ('cents', models.PositiveBigIntegerField()),
                ('asked', models.BooleanField()),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('visit', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='late_fee', to='visits.visit')),
            ],
            options={
                'ordering': ('id',),
            },
        ),
        migrations.CreateModel(
            name='VisitItem',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visit_items', to='plans.item')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visit_items', to='visits.visit')),
            ],
            options={
                'ordering': ('visit', 'id'),
                'constraints': [models.UniqueConstraint(fields=('visit', 'item'), name='visit_item_once')],
            },
        ),
        migrations.CreateModel(
            name='VisitMove',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('sequence', models.PositiveSmallIntegerField()),
                ('before', models.CharField(blank=True, max_length=12)),
                ('after', models.CharField(max_length=12)),
                ('reason', models.TextField(blank=True)),
                ('caused_by', models.CharField(blank=True, max_length=10)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='moves', to='visits.visit')),
            ],
            options={
                'ordering': ('visit', 'sequence'),
                'constraints': [models.UniqueConstraint(fields=('visit', 'sequence'), name='visit_move_once')],
            },
        ),
        migrations.CreateModel(
            name='WorkWeek',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('effective', models.DateField()),
                ('weekdays', models.JSONField(default=list)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinician', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='work_weeks', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'ordering': ('clinician', 'effective', 'id'),
                'indexes': [models.Index(fields=['office', 'clinician', '-effective', '-id'], name='work_week_in_force')],
            },
        ),
        migrations.CreateModel(
            name='Absence',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('first', models.DateField()),
                ('last', models.DateField()),
                ('at', models.DateTimeField()),
                ('taken_back_at', models.DateTimeField(null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clinician', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='absences', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('taken_back_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('first', 'id'),
                'indexes': [models.Index(fields=['office', 'last'], name='absence_by_day')],
                'constraints': [models.CheckConstraint(condition=models.Q(('last__gte', models.F('first'))), name='absence_lasts')],
            },
        ),
    ]
